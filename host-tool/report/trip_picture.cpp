#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/report/picture.hpp"
#include "host-tool/report/trip_snapshot.hpp"

namespace strandproof::host::report {
namespace {

constexpr double width = 460, left = 52, right = 14;  // SVG units, as curve.cpp
constexpr double panel = 84, gap = 16, top = 20, foot = 34;
constexpr double height = top + panel + gap + panel + foot;
constexpr unsigned advance_bit = 1U << 2U;  // outputs, SPEC.md section 9

using Value = std::function<double(const proto::TripSample&)>;

// One panel: its place, and the range that it shows.
struct Panel {
  double upper, least, most;
  [[nodiscard]] double y(double v) const { return upper + panel - (v - least) / (most - least) * panel; }
};

struct Time {
  double from, to;  // ms
  [[nodiscard]] double x(double ms) const {
    return left + (ms - from) / (to - from) * (width - left - right);
  }
};

// From nothing up, or where `about` is given so much below and above what was measured: a ram moves little in
// 0.8 s.
Panel panel_of(double upper, const proto::TripSnapshot& shot, const std::vector<Value>& values,
               double about = 0.0) {
  const double first = values.front()(shot.samples.front());
  Panel p{upper, about > 0.0 ? first : 0.0, about > 0.0 ? first : 1.0};
  for (const auto& s : shot.samples) {
    for (const auto& value : values) {
      p.least = std::min(p.least, value(s));
      p.most = std::max(p.most, value(s));
    }
  }
  p.least -= about;
  p.most += about;
  return p;
}

std::string grid(const Panel& p, const Time& t, const std::string& name) {
  std::string s;
  const double step = step_for((p.most - p.least) * 2.0);
  for (double v = std::ceil(p.least / step) * step + 0.0; v <= p.most; v += step) {  // never -0
    s += fmt::format(
        "<line class='g' x1='{}' x2='{}' y1='{:.1f}' y2='{:.1f}'/><text x='{}' y='{:.1f}' "
        "text-anchor='end'>{:g}</text>",
        left, width - right, p.y(v), p.y(v), left - 6, p.y(v) + 4, v);
  }
  for (double ms = -500; ms <= t.to; ms += 100) {
    if (ms >= t.from)
      s += fmt::format("<line class='g' x1='{0:.1f}' x2='{0:.1f}' y1='{1:.1f}' y2='{2:.1f}'/>", t.x(ms),
                       p.upper, p.upper + panel);
  }
  return s + fmt::format("<text transform='translate(13,{:.1f}) rotate(-90)' text-anchor='middle'>{}</text>",
                         p.upper + panel / 2, name);
}

std::string drawn(const proto::TripSnapshot& shot, const Panel& p, const Time& t, const Value& value,
                  const char* style) {
  std::string s = fmt::format("<polyline fill='none' {} points='", style);
  for (const auto& sample : shot.samples)
    s += fmt::format("{:.1f},{:.1f} ", t.x(sample.at_ms), p.y(value(sample)));
  return s + "'/>";
}

// A bar where the advance valve was commanded to move oil.
std::string advance_bar(const proto::TripSnapshot& shot, const Panel& p, const Time& t) {
  std::string s;
  for (auto i = shot.samples.begin(); i != shot.samples.end();) {
    const bool on = (i->outputs & advance_bit) != 0;
    const auto end = std::find_if(
        i, shot.samples.end(), [&](const auto& next) { return ((next.outputs & advance_bit) != 0) != on; });
    if (on)
      s += fmt::format("<rect x='{:.1f}' y='{:.1f}' width='{:.1f}' height='4' fill='#1c1f24'/>",
                       t.x(i->at_ms), p.upper + panel + 6, t.x(std::prev(end)->at_ms + 1) - t.x(i->at_ms));
    i = end;
  }
  return s;
}

std::string time_axis(const Time& t) {
  std::string s;
  for (double ms = -500; ms <= t.to; ms += 100) {
    if (ms >= t.from)
      s += fmt::format("<text x='{:.1f}' y='{}' text-anchor='middle'>{:g}</text>", t.x(ms),
                       height - foot + 14, ms);
  }
  return s +
         fmt::format(
             "<text x='{}' y='{}' text-anchor='middle'>ms from the trip; bar: advance valve commanded</text>",
             (left + width - right) / 2, height - 5);
}

}  // namespace

std::string snapshot_svg(const proto::TripSnapshot& shot) {
  if (shot.samples.empty()) return "";
  const double mpa = shot.head.pressure_span_mbar() / 1e4;
  const double mm = shot.head.stroke_span_um() / 1e3;
  const Value a = [&](const auto& s) { return proto::measured_of(s.pressure_a, mpa); };
  const Value b = [&](const auto& s) { return proto::measured_of(s.pressure_b, mpa); };
  const Value stroke = [&](const auto& s) { return proto::measured_of(s.stroke, mm); };
  const Time t{double{1} * shot.samples.front().at_ms, shot.samples.back().at_ms + 1.0};
  const Panel upper = panel_of(top, shot, {a, b});
  const Panel lower = panel_of(top + panel + gap, shot, {stroke}, 2.0);
  const std::string cause = texts::cause(shot.head.cause());
  std::string s = fmt::format(
      "<svg viewBox='0 0 {} {}' role='img' aria-label='pressures and stroke around the trip: {}'>", width,
      height, cause);
  s += grid(upper, t, "MPa") + grid(lower, t, "stroke, mm") + time_axis(t);
  s += drawn(shot, upper, t, b, "stroke='#9aa3af' stroke-width='1'");
  s += drawn(shot, upper, t, a, "stroke='#1c1f24' stroke-width='1'");
  s += drawn(shot, lower, t, stroke, "stroke='#1c1f24' stroke-width='1'");
  s += advance_bar(shot, upper, t);
  s += fmt::format("<line class='l' x1='{0:.1f}' x2='{0:.1f}' y1='{1}' y2='{2}'/>", t.x(0), top - 4,
                   height - foot);
  s += fmt::format("<text x='{:.1f}' y='{}' text-anchor='end'>{}</text>", t.x(0) - 5, top - 7, cause);
  s += fmt::format("<text x='{}' y='{}' text-anchor='end'>A black, B grey</text>", width - right, top - 7);
  return s + "</svg>";
}

}  // namespace strandproof::host::report
