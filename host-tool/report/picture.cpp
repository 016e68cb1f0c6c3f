#include "host-tool/report/picture.hpp"

#include <fmt/core.h>

#include <cmath>

namespace strandproof::host::report {
namespace {

const char* style_of(Ink ink) {
  switch (ink) {
    case Ink::frame:
      return "stroke='#535b66' stroke-width='.25'";
    case Ink::grid:
      return "stroke='#e0e3e8' stroke-width='.18'";
    case Ink::strong:
      return "stroke='#1c1f24' stroke-width='.3'";
    case Ink::band:
      break;
  }
  return "fill='#e2e5ea'";
}

const char* anchor_of(Anchor anchor) {
  return anchor == Anchor::start ? "start" : anchor == Anchor::middle ? "middle" : "end";
}

std::string label_svg(const Label& l) {
  const std::string turn =
      l.turned ? fmt::format(" transform='rotate(-90 {:.2f} {:.2f})'", l.at.x, l.at.y) : "";
  return fmt::format("<text x='{:.2f}' y='{:.2f}' text-anchor='{}'{}>{}</text>", l.at.x, l.at.y,
                     anchor_of(l.anchor), turn, l.text);
}

}  // namespace

double step_for(double most) {
  const double step = std::pow(10.0, std::floor(std::log10(most / 7.0)));
  for (const double factor : {1.0, 2.0, 5.0}) {
    if (most / (step * factor) <= 7.0) return step * factor;
  }
  return step * 10.0;
}

std::vector<Place> triangle(const Mark& mark) {
  constexpr double half = 0.85;
  const double tip = mark.up ? -half : half;
  return {{mark.at.x, mark.at.y + tip},
          {mark.at.x + half, mark.at.y - tip * 0.7},
          {mark.at.x - half, mark.at.y - tip * 0.7}};
}

std::string picture_svg(const Picture& p) {
  std::string s = fmt::format("<svg viewBox='0 0 {:.2f} {:.2f}' role='img' aria-label='{}'>", p.width_mm,
                              p.height_mm, p.title);
  const auto corners = [](const std::vector<Place>& places) {
    std::string text;
    for (const auto& c : places) text += fmt::format("{:.2f},{:.2f} ", c.x, c.y);
    return text;
  };
  for (const auto& a : p.areas) {
    s += fmt::format("<polygon points='{}' {}/>", corners(a.corners), style_of(a.ink));
  }
  for (const auto& l : p.lines) {
    s += fmt::format("<line x1='{:.2f}' y1='{:.2f}' x2='{:.2f}' y2='{:.2f}' {}/>", l.from.x, l.from.y, l.to.x,
                     l.to.y, style_of(l.ink));
  }
  for (const auto& m : p.marks) {
    s += fmt::format("<polygon points='{}' fill='{}' stroke='#1c1f24' stroke-width='.2'/>",
                     corners(triangle(m)), m.up ? "#1c1f24" : "#fff");
  }
  for (const auto& l : p.labels) s += label_svg(l);
  return s + "</svg>";
}

}  // namespace strandproof::host::report
