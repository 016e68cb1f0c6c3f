#include "host-tool/report/lines.hpp"

#include <fmt/core.h>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/report/trip_snapshot.hpp"
#include "proto/peer/measured.hpp"
#include "proto/peer/rows.hpp"

namespace strandproof::host::report {
namespace {

enum class Event : std::uint32_t {
#define EVENT(number, id, text, detail) id = number,
#include "proto/catalogue.def"
};

std::string kilonewton(std::int64_t n) {
  return fmt::format("{:.2f} kN", static_cast<double>(n) / 1e3);
}
std::string millimetre(std::int64_t um) {
  return fmt::format("{:.1f} mm", static_cast<double>(um) / 1e3);
}

std::string trip(const wire::EventRecord& e) {
  const bool measurable = e.value() != 0 || e.limit() != 0;
  return fmt::format(": {}{}; {}", texts::cause(e.cause()),
                     measurable ? fmt::format(" ({}, limit {})", proto::measured(e.cause(), e.value()),
                                              proto::measured(e.cause(), e.limit()))
                                : "",
                     texts::remedy(e.cause()));
}

// The number holds the first four bytes, the lowest byte first.
std::string fingerprint_start(std::uint32_t d) {
  return fmt::format("{:02x}{:02x} {:02x}{:02x}", d & 0xFFU, d >> 8U & 0xFFU, d >> 16U & 0xFFU, d >> 24U);
}

std::string particulars(const wire::EventRecord& e) {
  switch (static_cast<Event>(e.code())) {
    case Event::state:
      return fmt::format(": {} -> {}", texts::state(e.detail()), texts::state(e.state()));
    case Event::trip:
    case Event::ordinary_stop:
      return trip(e);
    case Event::emergency_stop:
      return "; " + texts::remedy(e.cause());
    case Event::stop:
      return ": " + texts::cause(e.cause());
    case Event::reset:
      return ": " + texts::cause(e.detail());
    case Event::refused:
      return fmt::format(": {} (refusal {})", texts::refusal(e.detail()), e.detail());
    case Event::seated:
      return ", draw-in " + millimetre(e.detail());
    case Event::bed_entry:
      return ": " + texts::entry(e.detail());
    case Event::link_refused:
      return fmt::format(": {}: {}", texts::message(e.value()), texts::refusal(e.detail()));
    case Event::mode:
      return ": " + texts::state(e.state());
    case Event::table_withdrawn:
      return fmt::format(": {} (reason {}, revision {})", texts::reason(e.detail()), e.detail(), e.value());
    case Event::table_undone:
      return fmt::format(": revision {}, undone {}", e.detail(), e.value());
    case Event::part_changed:
      return fmt::format(": {} (part {}, revision voided {})", texts::part(e.detail()), e.detail(),
                         e.value());
    case Event::table_bad:
      return fmt::format(": {} (refusal {}, revision {})", texts::refusal(e.detail()), e.detail(), e.value());
    case Event::key_enrolled:
    case Event::key_revoked:
      return ": fingerprint " + fingerprint_start(e.detail());
    case Event::copies:
      return fmt::format(": {} needed{}", e.detail(),
                         e.value() == 0 ? ""
                                        : fmt::format(", copy ... {:04x} {:04x} forgotten", e.value() >> 16U,
                                                      e.value() & 0xFFFFU));
    default:
      return e.detail() == 0 ? std::string{}
                             : fmt::format(" ({} {})", texts::event_detail(e.code()), e.detail());
  }
}

}  // namespace

std::string event_line(const wire::EventRecord& e) {
  return fmt::format("{}{} [{}, {}]", texts::event(e.code()), particulars(e), texts::load(e.load_state()),
                     kilonewton(e.force_n()));
}

std::string strokes_line(const wire::PullRecord& p) {
  std::string text = fmt::format("{} strokes", p.strokes());
  const auto rows = proto::rows_of(p.stroke_rows(), 3);
  if (!rows) return text + ", not readable";
  int number = 0;
  for (const proto::Row& row : *rows) {
    text += fmt::format(", {} to {}, draw-in {}, {}", ++number, kilonewton(row[0]), millimetre(row[1]),
                        row[2] == 0 ? "not lifted off" : "lifted off at " + kilonewton(row[2]));
  }
  return text;
}

std::string pull_line(const wire::PullRecord& p) {
  return fmt::format(
      "PULL bed {} position {}: {}; settle {}, locked {}, elongation {}, draw-in {}, table {}{}{}", p.bed(),
      p.position(), texts::verdict(p.verdict()), kilonewton(p.settle_n()), kilonewton(p.locked_n()),
      millimetre(p.elongation_um()), millimetre(p.draw_in_um()), p.table_revision(),
      p.strokes() == 0 ? "" : "; " + strokes_line(p), p.cause() == 0 ? "" : "; " + texts::cause(p.cause()));
}

std::string record_line(const std::string& body) {
  wire::Record r;
  if (!r.ParseFromString(body)) return "not readable: of a newer jack, or damaged";
  if (r.has_pull()) return pull_line(r.pull());
  if (r.has_checkpoint()) {
    return fmt::format("checkpoint: signed up to record {}, epoch {}", r.checkpoint().covers(),
                       r.checkpoint().epoch());
  }
  if (r.has_snapshot()) return snapshot_line(r.snapshot());
  if (r.has_curve()) {
    return fmt::format("part of the curve of instruction {}: from point {} of {}", r.curve().instruction(),
                       r.curve().first() + 1, r.curve().total());
  }
  return r.has_event() ? event_line(r.event()) : "of a kind this tool does not know";
}

std::string entry_line(const archive::Entry& e) {
  using Kind = archive::EntryKind;
  std::string where;
  if (e.device != 0) where += fmt::format(" jack {}", e.device);
  if (e.bed != 0) where += fmt::format(" bed {}", e.bed);
  if (e.sequence != 0 && e.kind != Kind::sign_off) where += fmt::format(" record {}", e.sequence);
  const std::string by = " by " + shown(e.by);
  const std::string words = e.words.empty() ? "" : ": " + shown(e.words, 400);
  switch (e.kind) {
    case Kind::remark:
      return "remark" + where + by + words;
    case Kind::disposition:
      return fmt::format("decision {}{}{}{}",
                         e.outcome >= 1 && e.outcome <= 3 ? decision_words[e.outcome - 1] : "not known",
                         where, by, words);
    case Kind::sign_off:
      return fmt::format("signed off{}{}: {} pulls up to record {}, SHA-256 {}", where, by, e.outcome,
                         e.sequence, e.records_digest_hex);
    case Kind::minimum_age:
      return fmt::format("minimum age of signed beds raised to {} days{}", e.outcome, by);
    case Kind::deletion:
      return fmt::format("{} records deleted{}{}{}; SHA-256 {}", e.outcome, where, by, words,
                         e.records_digest_hex);
    case Kind::enrolment:
      return "controller enrolled" + where + by + words;
  }
  return fmt::format("kind {} of a newer program{}{}{}", static_cast<unsigned>(e.kind), where, by, words);
}

}  // namespace strandproof::host::report
