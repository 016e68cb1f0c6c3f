// Commands that look at gauge tables and change nothing: show, watch, history.
#include <fmt/core.h>

#include <algorithm>
#include <ctime>
#include <nlohmann/json.hpp>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/doubt.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/check/spot.hpp"
#include "host-tool/check/trend.hpp"
#include "host-tool/cli/tables.hpp"
#include "host-tool/report/lines.hpp"

namespace strandproof::host::cli {
namespace {

enum class Event : std::uint32_t {
#define EVENT(number, id, text, detail) id = number,
#include "proto/catalogue.def"
};

constexpr std::int64_t soon_s = 30LL * 86400;  // a calibration takes its time to arrange
using Json = nlohmann::ordered_json;

std::string key_name(const wire::Tables& t, const std::string& fingerprint) {
  for (const auto& k : t.keys()) {
    if (k.fingerprint() == fingerprint) return "\"" + shown(k.name()) + "\"";
  }
  return "enrolled no more";
}

void print_slot(const wire::Tables& t, char name, const wire::TableSlot& s) {
  if (s.revision() == 0) {
    fmt::print("slot {}   {}\n", name, texts::table_state(s.state()));
    return;
  }
  fmt::print("slot {}   revision {}  {}\n", name, s.revision(), texts::table_state(s.state()));
  fmt::print("         calibrated {}, due {} ({})\n",
             format_time(static_cast<std::int64_t>(s.calibrated_s())),
             format_time(static_cast<std::int64_t>(s.due_s())),
             days_left(static_cast<std::int64_t>(s.due_s()), std::time(nullptr)));
  const std::string accuracy =
      s.class_tenths() == 0 ? "class not stated" : fmt::format("class {:g}", s.class_tenths() / 10.0);
  const std::string uncertainty =
      s.uncertainty_ppm() == 0 ? "uncertainty not stated"
                               : fmt::format("expanded uncertainty {:.2f} %", s.uncertainty_ppm() / 1e4);
  fmt::print("         {}, {}, {} pulls, digest {}\n", accuracy, uncertainty, s.pulls(),
             to_hex(s.sha256()).substr(0, 16));
  fmt::print("         signed with {} ({})\n", grouped(s.key_fingerprint()),
             key_name(t, s.key_fingerprint()));
}

// One line each; how many there are.
std::vector<std::string> warnings(const archive::Archive& kept, const wire::Tables& t, std::uint32_t jack) {
  std::vector<std::string> w;
  if (t.refusal() != 0) w.push_back("the jack refuses to arm: " + texts::refusal(t.refusal()));
  if (t.withdrawn_reason() != 0)
    w.push_back("withdrawn at the jack: " + check::reason_text(t.withdrawn_reason()));
  if (t.voided_part() != 0) w.push_back("void, part changed: " + texts::part(t.voided_part()));
  if (t.keys_size() == 0) w.push_back("no table key enrolled: strandproof key enrol, at the pendant");
  if (t.keys_size() == 1)
    w.push_back("one table key enrolled: enrol a second, kept elsewhere, before it is lost");
  if (t.active() == 0) return w;
  const auto& s = slot(t, t.active());
  const auto due = static_cast<std::int64_t>(s.due_s());
  if (due - std::time(nullptr) < soon_s) w.push_back("due " + format_time(due) + ": arrange the calibration");
  if (t.withdrawn_reason() == 0 && check::is_withdrawn(kept, jack, s.revision()))
    w.push_back("withdrawn in this archive, but the jack does not know it: run gauge withdraw at the jack");
  const auto trend = check::trend_of(check::slopes(kept, jack, s.revision()));
  if (check::warns(trend)) w.push_back(check::text(trend));
  return w;
}

void print_points(const gauge::HeldTable& table) {
  fmt::print("{:>14} {:>10} {:>14} {:>10}\n", "A mbar", "N", "B mbar", "N");
  const auto& [a, b] = table.increasing;
  for (std::size_t n = 0; n < std::max(a.size(), b.size()); ++n) {
    const auto cell = [n](const std::vector<gauge::Point>& points) {
      return n < points.size() ? fmt::format("{:>14} {:>10}", points[n].pressure_mbar, points[n].force_n)
                               : fmt::format("{:>14} {:>10}", "", "");
    };
    fmt::print("{} {}\n", cell(a), cell(b));
  }
}

Json slot_json(const wire::TableSlot& s) {
  return {{"revision", s.revision()},
          {"state", texts::table_state(s.state())},
          {"sha256", to_hex(s.sha256())},
          {"due_s", s.due_s()},
          {"uncertainty_ppm", s.uncertainty_ppm()},
          {"key", to_hex(s.key_fingerprint())},
          {"pulls", s.pulls()}};
}

void print_json(const wire::Tables& t, std::uint32_t jack, const std::vector<std::string>& w) {
  Json j{{"jack", jack},
         {"slot_a", slot_json(t.slot_a())},
         {"slot_b", slot_json(t.slot_b())},
         {"active", t.active()},
         {"floor", t.floor()},
         {"refusal", t.refusal()}};
  j["keys"] = Json::array();
  for (const auto& k : t.keys())
    j["keys"].push_back({{"name", k.name()}, {"fingerprint", to_hex(k.fingerprint())}});
  j["warnings"] = w;
  fmt::print("{}\n", j.dump());
}

void print_tables(const archive::Archive& kept, const wire::Tables& t, std::uint32_t jack) {
  print_slot(t, 'A', t.slot_a());
  print_slot(t, 'B', t.slot_b());
  fmt::print("floor    {}: only a higher revision is taken\n", t.floor());
  for (const auto& k : t.keys())
    fmt::print("key      {}  \"{}\"\n", grouped(k.fingerprint()), shown(k.name()));
  if (t.active() == 0) return;
  const auto trend = check::trend_of(check::slopes(kept, jack, slot(t, t.active()).revision()));
  if (!check::warns(trend)) fmt::print("{}\n", check::text(trend));
}

}  // namespace

Exit gauge_show(const Common& common, const GaugeShow& o) {
  auto c = connect(common);
  const std::uint32_t jack = c.session->identify().jack_serial();
  const std::string origin = texts::origin(c.session->peer().identity()->origin());
  const auto kept = open_archive(common);
  const wire::Tables t = read_tables(c);
  const auto w = warnings(kept, t, jack);
  if (common.json) {
    print_json(t, jack, w);
  } else {
    fmt::print("jack {} ({})\n", jack, origin);
    print_tables(kept, t, jack);
    for (const auto& line : w) fmt::print("WARNING  {}\n", line);
  }
  bool same = true;
  if (t.active() != 0 && (o.points || !o.file.empty())) {
    std::uint32_t revision = 0;
    const auto table = read_active(c, revision);
    if (o.points) print_points(table);
    if (!o.file.empty()) {
      same = check::held_bytes(gauge::from_json(read_file(o.file), o.file), revision) ==
             check::held_bytes(table, revision);
      fmt::print("{} {} what the jack works with, byte for byte\n", o.file, same ? "is" : "is NOT");
    }
  }
  return t.active() != 0 && t.refusal() == 0 && same ? Exit::good : Exit::refused;
}

Exit gauge_watch(const Common& common, const GaugeWatch& o) {
  const auto kept = open_archive(common);
  const std::uint32_t jack = chosen_jack(kept, o.jack);
  const std::uint32_t revision = o.revision != 0 ? o.revision : check::active_revision(kept, jack);
  const auto slopes = check::slopes(kept, jack, revision);
  const auto trend = check::trend_of(slopes, {.window = o.window});
  fmt::print("jack {}, table revision {}: stiffness seen over the plan's k\n", jack, revision);
  const std::size_t from = slopes.size() > 2 * o.window ? slopes.size() - 2 * o.window : 0;
  for (std::size_t i = from; i < slopes.size(); ++i) {
    const auto& s = slopes[i];
    fmt::print("record {:>6}  bed {:>3} position {:>2}  reel {:>6}  {:>7.2f} %\n", s.sequence, s.bed,
               s.position, s.reel, 100.0 * s.ratio);
  }
  fmt::print("{}{}\n", check::warns(trend) ? "WARNING  " : "", check::text(trend));
  return check::warns(trend) ? Exit::refused : Exit::good;
}

// ---- history ------------------------------------------------------------------------------------------

namespace {

bool about_tables(std::uint32_t code) {
  using enum Event;
  for (const auto e :
       {table_loaded, table_withdrawn, table_undone, key_enrolled, key_revoked, part_changed, table_bad}) {
    if (code == static_cast<std::uint32_t>(e)) return true;
  }
  return false;
}

std::string act_text(const archive::HistoryEntry& e) {
  switch (e.act) {
    case archive::Act::loaded:
      return fmt::format("revision {} loaded", e.revision);
    case archive::Act::undone:
      return fmt::format("revision {} undone, revision {} active again", e.revision, shown(e.details));
    case archive::Act::withdrawn:
      return fmt::format("revision {} WITHDRAWN: {}", e.revision, check::reason_text(e.outcome));
    default:
      return fmt::format("revision {} checked: {}", e.revision,
                         check::verdict_text(static_cast<check::Verdict>(e.outcome)));
  }
}

struct Line {
  std::uint64_t sequence;
  std::string text;
};

// The event holds the first four bytes of a key's fingerprint as a number, the lowest byte first.
std::string event_text(const wire::EventRecord& e) {
  const bool key = e.code() == static_cast<std::uint32_t>(Event::key_enrolled) ||
                   e.code() == static_cast<std::uint32_t>(Event::key_revoked);
  if (!key) return report::event_line(e);
  const std::uint32_t d = e.detail();
  return fmt::format("{}: {:02x}{:02x} {:02x}{:02x}", texts::event(e.code()), d & 0xFFU, d >> 8U & 0xFFU,
                     d >> 16U & 0xFFU, d >> 24U);
}

// The jack's own words go first where both tell of the same: this host entered it after the jack had done it.
std::vector<Line> history_lines(const archive::Archive& kept, std::uint32_t jack) {
  std::vector<Line> lines;
  for (const auto& stored : kept.records(jack)) {
    wire::Record r;
    if (!r.ParseFromString(stored.body) || !r.has_event() || !about_tables(r.event().code())) continue;
    const auto utc = static_cast<std::int64_t>(r.event().utc_s());
    lines.push_back(
        {stored.sequence, fmt::format("{:<20}  jack  {}", utc == 0 ? "clock not set" : format_time(utc),
                                      event_text(r.event()))});
  }
  for (const auto& e : kept.history(jack)) {
    lines.push_back(
        {e.last_record, fmt::format("{:<20}  host  {}, by {}{}{}{}", format_time(e.at_s), act_text(e),
                                    shown(e.by), e.why.empty() ? "" : ": " + shown(e.why, 120),
                                    e.sha256_hex.empty() ? "" : ", digest " + e.sha256_hex.substr(0, 16),
                                    e.key_fingerprint.empty() ? "" : ", key " + e.key_fingerprint)});
  }
  std::stable_sort(lines.begin(), lines.end(),
                   [](const Line& a, const Line& b) { return a.sequence < b.sequence; });
  return lines;
}

Json entry_json(const archive::HistoryEntry& e) {
  return {{"at", format_time(e.at_s)},
          {"act", act_text(e)},
          {"by", e.by},
          {"why", e.why},
          {"revision", e.revision},
          {"sha256", e.sha256_hex},
          {"key", e.key_fingerprint},
          {"last_record", e.last_record},
          {"details", e.details}};
}

}  // namespace

Exit gauge_history(const Common& common, std::uint32_t named) {
  const auto kept = open_archive(common);
  const std::uint32_t jack = chosen_jack(kept, named);
  if (common.json) {
    for (const auto& e : kept.history(jack)) fmt::print("{}\n", entry_json(e).dump());
    return Exit::good;
  }
  fmt::print("jack {}: what was done to its gauge tables\n", jack);
  for (const auto& line : history_lines(kept, jack)) fmt::print("{}\n", line.text);
  const std::size_t doubtful = print_doubt(kept, jack);
  if (doubtful != 0) fmt::print("strands with their calibration in doubt: {}\n", doubtful);
  return Exit::good;
}

}  // namespace strandproof::host::cli
