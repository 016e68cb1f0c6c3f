#include "host-tool/report/pull_sheet.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <kainjow/mustache.hpp>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/report/lines.hpp"
#include "host-tool/report/pull_curve.hpp"
#include "host-tool/report/trip_snapshot.hpp"

namespace strandproof::host::report {
namespace {

using kainjow::mustache::data;

enum class Verdict : std::uint32_t {
#define VERDICT(number, id, text) id = number,
#include "proto/catalogue.def"
};

// A force with its expanded uncertainty, and no digit beyond it.
std::string within(std::int64_t n, double u_n) {
  const double kn = static_cast<double>(n) / 1e3;
  return u_n >= 100.0 ? fmt::format("{:.1f} kN \u00b1 {:.1f} kN", kn, u_n / 1e3)
                      : fmt::format("{:.2f} kN \u00b1 {:.2f} kN", kn, u_n / 1e3);
}

std::string unstated(std::int64_t n) {
  return fmt::format("{:.1f} kN (uncertainty not stated)", static_cast<double>(n) / 1e3);
}

double table_share(std::int64_t n, std::uint32_t ppm) {
  return std::abs(static_cast<double>(n)) * ppm * 1e-6;
}

std::string force(std::int64_t n, std::uint32_t ppm) {
  return ppm == 0 ? unstated(n) : within(n, table_share(n, ppm));
}

// The jack calculated locked = settle - k * draw-in: so its k is in the record. A draw-in of less than half a
// millimetre is too short a lever for it; then the plan's (P_j - P_0) / elongation.
double stiffness_n_per_um(const wire::PullRecord& r) {
  constexpr int shortest_um = 500;
  if (r.draw_in_um() >= shortest_um) return static_cast<double>(r.settle_n() - r.locked_n()) / r.draw_in_um();
  if (r.elongation_plan_um() == 0) return 0.0;
  return (static_cast<double>(r.jack_n()) - r.initial_n()) / r.elongation_plan_um();
}

// Expanded (k = 2): the table's share and the draw-in's in quadrature, as the two have nothing in common.
std::string locked_force(const wire::PullRecord& r) {
  if (r.uncertainty_ppm() == 0) return unstated(r.locked_n());
  const double draw_in = stiffness_n_per_um(r) * 2.0 * draw_in_uncertainty_um;
  return within(r.locked_n(), std::hypot(table_share(r.locked_n(), r.uncertainty_ppm()), draw_in));
}

std::string kilonewton(std::int64_t n) {
  return fmt::format("{:.1f} kN", static_cast<double>(n) / 1e3);
}
std::string millimetre(std::int64_t um) {
  return fmt::format("{:.1f} mm", static_cast<double>(um) / 1e3);
}

std::string percent_off(double value, double plan) {
  return plan > 0.0 ? fmt::format("{:+.1f} %", 100.0 * (value - plan) / plan) : std::string{"-"};
}

void add_forces(data& d, const wire::PullRecord& r) {
  const std::uint32_t ppm = r.uncertainty_ppm();
  const bool settled = r.settle_n() != 0;
  const bool seated = r.locked_n() != 0;
  d.set("initial", r.datum_n() == 0 ? "not reached" : force(r.datum_n(), ppm));
  d.set("settle", settled ? force(r.settle_n(), ppm) : "not reached");
  d.set("jack_force", kilonewton(r.jack_n()));
  d.set("locked", seated ? locked_force(r) : "not seated");
  d.set("locked_off", seated ? percent_off(r.locked_n(), r.seated_n()) : "-");
  d.set("seated", fmt::format("{} \u00b1 {:.1f} %", kilonewton(r.seated_n()), r.force_window_ppm() / 1e4));
  d.set("peak", kilonewton(std::max(0, r.peak_n())));
  d.set("limit", kilonewton(r.limit_n()));
}

// Summed over strokes: each re-bite adds what its draw-in and its lift-off are uncertain by, expanded (k =
// 2).
std::string elongation(const wire::PullRecord& r) {
  if (r.strokes() < 2) return millimetre(r.elongation_um());
  const double u_um = 2.0 * re_bite_uncertainty_um * std::sqrt(r.strokes() - 1.0);
  return fmt::format("{} \u00b1 {:.1f} mm", millimetre(r.elongation_um()), u_um / 1e3);
}

void add_movements(data& d, const wire::PullRecord& r) {
  const bool settled = r.settle_n() != 0;
  d.set("elongation", settled ? elongation(r) : "not reached");
  d.set("strokes", r.strokes() == 0 ? "one" : strokes_line(r));
  d.set("elongation_off", settled ? percent_off(r.elongation_um(), r.elongation_plan_um()) : "-");
  d.set("elongation_plan", millimetre(r.elongation_plan_um()));
  d.set("elongation_window",
        fmt::format("{} to {}", millimetre(r.elongation_min_um()), millimetre(r.elongation_max_um())));
  d.set("draw_in", r.locked_n() != 0 ? millimetre(r.draw_in_um()) : "not seated");
  d.set("stiffness", r.stiffness_seen_n_per_m() == 0
                         ? "not reached"
                         : fmt::format("{:.1f} N/mm", r.stiffness_seen_n_per_m() / 1e3));
}

// What the drawn points are, and how far a sample may lie from them.
std::string points_text(const wire::PullRecord& r, const proto::PullCurve& curve) {
  std::string text = fmt::format("points: {} recorded", curve.points.size());
  if (r.curve_points() != 0)
    text += fmt::format(", no sample further than {:.2f} kN and {:.2f} mm from the line",
                        r.curve_within_n() / 1e3, r.curve_within_um() / 1e3);
  const std::string missing = missing_points(curve);
  return missing.empty() ? text : text + "; " + missing;
}

data trip_row(const TripOfPull& t) {
  data d;
  d.set("sequence", std::to_string(t.event.stored.sequence));
  d.set("cause", texts::cause(t.shot.head.part() == 0 ? t.shot.head.cause() : t.event.record.cause()));
  d.set("shot", snapshot_svg(t.shot));
  d.set("samples", samples_text(t.shot));
  d.set("head", head_text(t.shot));
  data lines{data::type::list};
  for (const auto& m : margin_texts(t.shot)) {
    data row;
    row.set("detector", m.detector);
    row.set("value", m.value);
    row.set("limit", m.limit);
    row.set("margin", m.margin);
    row.set("active", data{m.active});
    lines.push_back(row);
  }
  d.set("margins", lines);
  return d;
}

}  // namespace

data event_row(const EventOfJack& e) {
  data d;
  d.set("sequence", std::to_string(e.stored.sequence));
  d.set("at", fmt::format("{}.{:03} s", e.stored.tick_ms / 1000, e.stored.tick_ms % 1000));
  d.set("boot", std::to_string(e.stored.boot));
  d.set("text", event_line(e.record));
  return d;
}

data pull_sheet(const PullOfBed& p, const proto::PullCurve& curve, const std::vector<EventOfJack>& events,
                const std::vector<TripOfPull>& trips) {
  const auto& r = p.record;
  data d;
  d.set("position", std::to_string(r.position()));
  d.set("sequence", std::to_string(p.stored.sequence));
  d.set("instruction", std::to_string(r.instruction()));
  d.set("strand", r.strand_name());
  d.set("reel", std::to_string(r.reel()));
  d.set("verdict", texts::verdict(r.verdict()));
  const auto verdict = static_cast<Verdict>(r.verdict());
  d.set("good", data{verdict == Verdict::within_limits});
  d.set("replace", data{verdict == Verdict::must_be_replaced});
  d.set("abnormal", data{verdict != Verdict::within_limits && verdict != Verdict::must_be_replaced});
  if (r.cause() != 0) {
    d.set("cause", texts::cause(r.cause()));
    d.set("remedy", texts::remedy(r.cause()));
  }
  d.set("time", r.utc_s() == 0
                    ? "clock not set"
                    : fmt::format("{} (clock {})", format_time(static_cast<std::int64_t>(r.utc_s())),
                                  texts::clock_quality(r.clock_quality())));
  add_forces(d, r);
  add_movements(d, r);
  d.set("top_ups", std::to_string(r.top_ups()));
  d.set("duration", fmt::format("{:.0f} s", r.duration_ms() / 1e3));
  d.set("table", std::to_string(r.table_revision()));
  d.set("settings", std::to_string(r.settings_revision()));
  d.set("load", texts::load(r.load_state()));
  d.set("picture", curve_svg(r, curve));
  d.set("points", points_text(r, curve));
  data rows{data::type::list};
  for (const auto& e : events) rows.push_back(event_row(e));
  d.set("pull_events", rows);
  data shots{data::type::list};
  for (const auto& t : trips) shots.push_back(trip_row(t));
  d.set("trips", shots);
  return d;
}

}  // namespace strandproof::host::report
