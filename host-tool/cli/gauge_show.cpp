// Commands that look at gauge tables and change nothing: show, watch.
#include <fmt/core.h>

#include <algorithm>
#include <ctime>
#include <nlohmann/json.hpp>
#include <optional>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/doubt.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/check/trend.hpp"
#include "host-tool/cli/tables.hpp"
#include "host-tool/gauge/held_check.hpp"

namespace strandproof::host::cli {
namespace {

enum class Refusal : std::uint32_t {
#define REFUSAL(number, id, why, remedy) id = number,
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
      s.uncertainty_ppm() == 0
          ? "uncertainty not stated"
          : fmt::format("expanded uncertainty {:.2f} % from a fifth of the largest force",
                        s.uncertainty_ppm() / 1e4);
  fmt::print("         {}, {}, {}, digest {}\n", accuracy, uncertainty, counted(s.pulls(), "pull"),
             to_hex(s.sha256()).substr(0, 16));
  fmt::print("         signed with {} ({})\n", grouped(s.key_fingerprint()),
             key_name(t, s.key_fingerprint()));
}

// What bars arming, a line each, however many: the jack itself names the first that it meets.
std::vector<std::string> bars(const wire::Tables& t, std::uint32_t clock_quality) {
  std::vector<std::string> b;
  const auto add = [&](std::uint32_t refusal) {
    const std::string line = "the jack refuses to arm: " + texts::refusal(refusal);
    if (refusal != 0 && std::find(b.begin(), b.end(), line) == b.end()) b.push_back(line);
  };
  const auto add_if = [&](bool when, Refusal r) { add(when ? static_cast<std::uint32_t>(r) : 0); };
  add(t.refusal());
  add_if(t.active() == 0, Refusal::no_table);
  add_if(t.withdrawn_reason() != 0, Refusal::table_withdrawn);
  add_if(t.voided_part() != 0, Refusal::part_changed);
  if (t.active() != 0) {
    const auto& s = slot(t, t.active());
    const auto signs = [&](const wire::TableKeyEntry& k) { return k.fingerprint() == s.key_fingerprint(); };
    add_if(static_cast<std::int64_t>(s.due_s()) < std::time(nullptr), Refusal::table_overdue);
    add_if(std::none_of(t.keys().begin(), t.keys().end(), signs), Refusal::table_key_gone);
  }
  add_if(clock_quality >= clock_lost, Refusal::clock_not_known);
  return b;
}

// One line each; those that bar arming first.
std::vector<std::string> warnings(const archive::Archive& kept, const wire::Tables& t, std::uint32_t jack,
                                  std::vector<std::string> w) {
  if (t.withdrawn_reason() != 0) w.push_back("withdrawn at the jack: " + texts::reason(t.withdrawn_reason()));
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
  if (const auto p = check::pending(kept, jack, s.revision()); !p.text.empty()) w.push_back(p.text);
  const auto trend = check::trend_of(kept, jack, s.revision());
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

struct Active {
  gauge::HeldTable table;
  std::uint32_t revision;
};

Active read_with_revision(Connection& c) {
  Active a{};
  a.table = read_active(c, a.revision);
  return a;
}

bool is_file(const Active& active, const std::string& file) {
  return check::held_bytes(gauge::from_json(read_file(file), file), active.revision) ==
         check::held_bytes(active.table, active.revision);
}

Json points_json(const gauge::HeldTable& table) {
  Json j;
  for (std::size_t c = 0; c < 2; ++c) {
    for (const bool up : {true, false}) {
      auto& list = j[fmt::format("{}_{}", c == 0 ? 'a' : 'b', up ? "increasing" : "decreasing")] =
          Json::array();
      for (const auto& p : up ? table.increasing[c] : table.decreasing[c])
        list.push_back({p.pressure_mbar, p.force_n});
    }
  }
  return j;
}

void print_json(const wire::Tables& t, std::uint32_t jack, const std::vector<std::string>& w,
                const std::optional<Active>& active, bool points, const Json& same) {
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
  if (active) j["held_sha256"] = gauge::held_digest(active->table);
  if (active && points) j["points_mbar_n"] = points_json(active->table);
  if (!same.is_null()) j["file_is_active"] = same;
  fmt::print("{}\n", j.dump());
}

void print_tables(const archive::Archive& kept, const wire::Tables& t, std::uint32_t jack) {
  print_slot(t, 'A', t.slot_a());
  print_slot(t, 'B', t.slot_b());
  fmt::print("floor    {}: only a higher revision is taken\n", t.floor());
  for (const auto& k : t.keys())
    fmt::print("key      {}  \"{}\"\n", grouped(k.fingerprint()), shown(k.name()));
  if (t.active() == 0) return;
  const auto trend = check::trend_of(kept, jack, slot(t, t.active()).revision());
  if (!check::warns(trend)) fmt::print("{}\n", check::text(trend));
}

}  // namespace

Exit gauge_show(const Common& common, const GaugeShow& o) {
  auto c = connect(common);
  const std::uint32_t jack = c.session->identify().jack_serial();
  const std::string origin = texts::origin(c.session->peer().identity()->origin());
  const auto kept = open_archive(common);
  const wire::Tables t = read_tables(c);
  c.session->must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
  const auto barred = bars(t, c.session->peer().status()->clock_quality());
  const auto w = warnings(kept, t, jack, barred);
  std::optional<Active> active;
  if (t.active() != 0) active = read_with_revision(c);
  const bool compared = active && !o.file.empty();
  const bool same = !compared || is_file(*active, o.file);
  if (common.json) {
    print_json(t, jack, w, active, o.points, compared ? Json(same) : Json());
  } else {
    fmt::print("jack {} ({})\n", jack, origin);
    print_tables(kept, t, jack);
    if (active) fmt::print("table    held digest {}\n", gauge::held_digest(active->table).substr(0, 16));
    for (const auto& line : w) fmt::print("WARNING  {}\n", line);
    if (active && o.points) print_points(active->table);
    if (compared)
      fmt::print("{} {} what the jack works with, byte for byte\n", o.file, same ? "is" : "is NOT");
  }
  return t.active() != 0 && barred.empty() && same ? Exit::good : Exit::refused;
}

Exit gauge_watch(const Common& common, const GaugeWatch& o) {
  const auto kept = open_archive(common);
  const std::uint32_t jack = chosen_jack(kept, o.jack);
  const std::uint32_t revision = o.revision != 0 ? o.revision : check::active_revision(kept, jack);
  const auto slopes = check::slopes(kept, jack, revision, o.window);
  const auto trend = check::trend_of(slopes, {.window = o.window});
  fmt::print("jack {}, table revision {}: stiffness seen over the plan's k\n", jack, revision);
  for (const auto& s : slopes.last) {
    fmt::print("record {:>6}  bed {:>3} position {:>2}  reel {:>6}  {:>7.2f} %\n", s.sequence, s.bed,
               s.position, s.reel, 100.0 * s.ratio);
  }
  fmt::print("{}{}\n", check::warns(trend) ? "WARNING  " : "", check::text(trend));
  return check::warns(trend) ? Exit::refused : Exit::good;
}

}  // namespace strandproof::host::cli
