#include "host-tool/report/trip_snapshot.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <map>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/report/lines.hpp"
#include "proto/peer/measured.hpp"

namespace strandproof::host::report {
namespace {

using Parts = std::vector<wire::Snapshot>;

// A head and at most 39 parts, and what else the jack wrote meanwhile.
constexpr std::uint64_t records_around = 200;

// The snapshots around a record, by the tick of their trip. A memory that was renewed begins anew with its
// boots.
std::map<std::uint64_t, Parts> around(const archive::Archive& kept, const archive::StoredRecord& stored) {
  std::map<std::uint64_t, Parts> found;
  const std::uint64_t first = stored.sequence > records_around ? stored.sequence - records_around : 0;
  for (const auto& r :
       kept.find({.device = stored.device, .first = first, .last = stored.sequence + records_around})) {
    wire::Record record;
    if (r.boot == stored.boot && record.ParseFromString(r.body) && record.has_snapshot())
      found[record.snapshot().trip_ms()].push_back(record.snapshot());
  }
  return found;
}

std::uint64_t trip_of(const archive::StoredRecord& stored) {
  wire::Record record;
  return record.ParseFromString(stored.body) && record.has_snapshot() ? record.snapshot().trip_ms()
                                                                      : stored.tick_ms;
}

void take_samples(proto::TripSnapshot& shot, const Parts& of_earlier_trip) {
  const auto since = static_cast<std::int32_t>(shot.head.since_ms());
  proto::TripSnapshot earlier = proto::snapshot_of(of_earlier_trip);
  shot.total = earlier.total;
  shot.samples = std::move(earlier.samples);
  shot.missing = std::move(earlier.missing);
  for (auto& sample : shot.samples) sample.at_ms -= since;
  for (auto& span : shot.missing) span = {span.from_ms - since, span.to_ms - since};
}

std::string seconds(std::uint64_t ms) {
  return fmt::format("{}.{:03} s", ms / 1000, ms % 1000);
}

MarginText text_of(const proto::Margin& m) {
  MarginText t{.detector = texts::cause(m.cause), .active = m.active};
  if (m.limit == 0) {
    t.value = m.value != 0 ? proto::measured(m.cause, m.value) : m.active ? "yes" : "no";
    return t;
  }
  t.value = proto::measured(m.cause, m.value);
  t.limit = (m.lowest ? "lowest " : "") + proto::measured(m.cause, m.limit);
  t.margin = proto::measured(m.cause, m.left());
  return t;
}

}  // namespace

std::optional<proto::TripSnapshot> snapshot_of(const archive::Archive& kept,
                                               const archive::StoredRecord& stored) {
  const auto all = around(kept, stored);
  const std::uint64_t trip = trip_of(stored);
  const auto own = all.find(trip);
  if (own == all.end()) return std::nullopt;
  proto::TripSnapshot shot = proto::snapshot_of(own->second);
  const std::uint32_t since = shot.head.since_ms();
  if (since != 0) {
    const auto earlier = all.find(trip - since);
    take_samples(shot, earlier == all.end() ? Parts{} : earlier->second);
  }
  return shot;
}

std::string snapshot_line(const wire::Snapshot& part) {
  const std::string trip =
      fmt::format("snapshot of the trip at {}: {}", seconds(part.trip_ms()), texts::cause(part.cause()));
  if (part.part() == 0) return trip + ", in " + texts::state(part.state());
  return fmt::format("{}, samples from {} ms on", trip, part.from_ms());
}

std::string samples_text(const proto::TripSnapshot& shot) {
  if (shot.head.no_samples()) return "no samples: those of an earlier trip were being written";
  if (shot.total == 0)
    return "no samples: not in the archive, or the power was cut or the log full before the jack wrote them";
  std::string text = fmt::format("{} samples", shot.samples.size());
  if (!shot.samples.empty())
    text += fmt::format(" from {} to {} ms", shot.samples.front().at_ms, shot.samples.back().at_ms);
  if (shot.head.since_ms() != 0)
    text += fmt::format(", taken for the trip {} ms before", shot.head.since_ms());
  for (const auto& span : shot.missing)
    text += fmt::format("; {} to {} ms are missing", span.from_ms, span.to_ms);
  return text;
}

std::vector<MarginText> margin_texts(const proto::TripSnapshot& shot) {
  std::vector<MarginText> found;
  for (const auto& m : shot.margins) found.push_back(text_of(m));
  std::stable_sort(found.begin(), found.end(),
                   [](const auto& a, const auto& b) { return a.active && !b.active; });
  return found;
}

std::string head_text(const proto::TripSnapshot& shot) {
  if (shot.head.part() != 0) return "what the detectors saw is missing: its record is not in the archive";
  if (shot.head.missed() == 0) return "";
  return fmt::format("{} more trips right before it have left no snapshot", shot.head.missed());
}

std::vector<std::string> margin_lines(const proto::TripSnapshot& shot) {
  std::vector<std::string> lines;
  if (const auto head = head_text(shot); !head.empty()) lines.push_back(head);
  for (const auto& m : margin_texts(shot)) {
    const std::string line =
        fmt::format("{} {:<32}{:>14}", m.active ? "TRIPPED" : "       ", m.detector, m.value);
    lines.push_back(
        m.limit.empty() ? line : fmt::format("{}, limit {:>14}, margin {:>14}", line, m.limit, m.margin));
  }
  return lines;
}

std::string sample_csv_header() {
  return "jack,origin,boot,trip_ms,cause,at_ms,pressure_a_mbar,pressure_b_mbar,stroke_um,pressure_a_counts,"
         "pressure_b_counts,stroke_counts,inputs_bits,outputs_bits\r\n";
}

std::string sample_csv(const proto::TripSnapshot& shot, const archive::StoredRecord& stored,
                       const std::string& origin) {
  std::string text = sample_csv_header();
  const std::string begin = fmt::format("{},{},{},{},{}", stored.device, origin, stored.boot, trip_of(stored),
                                        texts::cause(shot.head.cause()));
  const double mbar = shot.head.pressure_span_mbar();
  const double um = shot.head.stroke_span_um();
  for (const auto& s : shot.samples) {
    text += fmt::format("{},{},{:.0f},{:.0f},{:.0f},{},{},{},{},{}\r\n", begin, s.at_ms,
                        proto::measured_of(s.pressure_a, mbar), proto::measured_of(s.pressure_b, mbar),
                        proto::measured_of(s.stroke, um), s.pressure_a, s.pressure_b, s.stroke, s.inputs,
                        s.outputs);
  }
  return text;
}

}  // namespace strandproof::host::report
