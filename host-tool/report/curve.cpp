#include <fmt/core.h>

#include <algorithm>

#include "host-tool/report/picture.hpp"
#include "host-tool/report/stressing_record.hpp"

namespace strandproof::host::report {
namespace {

constexpr double width = 460, height = 250;  // of the whole picture, SVG units
constexpr double left = 52, right = 14, top = 14, foot = 40;

struct Axes {
  double x_most, y_most;  // mm, kN
  [[nodiscard]] double x(double mm) const { return left + mm / x_most * (width - left - right); }
  [[nodiscard]] double y(double kn) const { return height - foot - kn / y_most * (height - top - foot); }
};

std::string grid(const Axes& a) {
  std::string s;
  for (double mm = 0; mm <= a.x_most; mm += step_for(a.x_most)) {
    s += fmt::format(
        "<line class='g' x1='{0:.1f}' x2='{0:.1f}' y1='{1}' y2='{2}'/><text x='{0:.1f}' y='{3}' "
        "text-anchor='middle'>{4:g}</text>",
        a.x(mm), top, height - foot, height - foot + 15, mm);
  }
  for (double kn = 0; kn <= a.y_most; kn += step_for(a.y_most)) {
    s += fmt::format(
        "<line class='g' x1='{1}' x2='{2}' y1='{0:.1f}' y2='{0:.1f}'/><text x='{3}' y='{4:.1f}' "
        "text-anchor='end'>{5:g}</text>",
        a.y(kn), left, width - right, left - 6, a.y(kn) + 4, kn);
  }
  s +=
      fmt::format("<text x='{}' y='{}' text-anchor='middle'>elongation, ram travel from the datum, mm</text>",
                  (left + width - right) / 2, height - 6);
  s += fmt::format("<text transform='translate(13,{}) rotate(-90)' text-anchor='middle'>force, kN</text>",
                   (top + height - foot) / 2);
  return s;
}

}  // namespace

std::string curve_svg(const wire::PullRecord& p, const proto::PullCurve& curve) {
  const Axes a{std::max(10.0, p.elongation_max_um() / 1e3 * 1.05), std::max(10.0, p.limit_n() / 1e3 * 1.05)};
  std::string s =
      fmt::format("<svg viewBox='0 0 {} {}' role='img' aria-label='force over elongation of position {}'>",
                  width, height, p.position());
  s += grid(a);
  const double window_left = a.x(p.elongation_min_um() / 1e3);
  s += fmt::format("<rect class='w' x='{:.1f}' y='{}' width='{:.1f}' height='{}'/>", window_left, top,
                   a.x(p.elongation_max_um() / 1e3) - window_left, height - foot - top);
  const auto level = [&](double kn, const char* name, const char* kind, double shift) {
    s += fmt::format(
        "<line class='{0}' x1='{1}' x2='{2}' y1='{3:.1f}' y2='{3:.1f}'/><text x='{4}' y='{5:.1f}'>{6} "
        "{7:.1f}</text>",
        kind, left, width - right, a.y(kn), left + 6, a.y(kn) + shift, name, kn);
  };
  level(p.limit_n() / 1e3, "limit", "l", -3);
  level(p.jack_n() / 1e3, "jack force", "t", 12);
  const double planned_from_kn = p.datum_n() > 0 ? p.datum_n() / 1e3 : p.initial_n() / 1e3;
  s += fmt::format("<line class='p' x1='{:.1f}' y1='{:.1f}' x2='{:.1f}' y2='{:.1f}'/>", a.x(0),
                   a.y(planned_from_kn), a.x(p.elongation_plan_um() / 1e3), a.y(p.jack_n() / 1e3));
  s += "<polyline class='c' points='";
  const auto at = [&](const proto::CurvePoint& q) {
    return std::pair{a.x(static_cast<double>(q.elongation_um) / 1e3),
                     a.y(static_cast<double>(q.force_n) / 1e3)};
  };
  for (const auto& q : curve.points) s += fmt::format("{:.1f},{:.1f} ", at(q).first, at(q).second);
  s += "'/>";
  for (const auto& q : curve.points)
    s += fmt::format("<circle cx='{:.1f}' cy='{:.1f}' r='1.8'/>", at(q).first, at(q).second);
  if (curve.points.empty()) {
    s += fmt::format("<text x='{}' y='{}' text-anchor='middle'>no point was recorded before the stop</text>",
                     width / 2, height / 2);
  }
  return s + "</svg>";
}

}  // namespace strandproof::host::report
