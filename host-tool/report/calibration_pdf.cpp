// The sheet on paper. The type shrinks until everything fits on one page; nothing is ever cut.
#include <algorithm>
#include <array>
#include <functional>

#include "host-tool/base/problem.hpp"
#include "host-tool/report/calibration.hpp"
#include "host-tool/report/canvas.hpp"
#include "host-tool/report/layout.hpp"

namespace strandproof::host::report {
namespace {

constexpr double side = 14.0, edge = 10.0;         // margins, mm
constexpr double left_share = 0.56;                // of the width, where two columns stand side by side
constexpr double between = 5.0;                    // columns that stand side by side, mm
constexpr double least_gap = 1.6, most_gap = 5.5;  // between sections, mm at full size
constexpr double picture_from = 0.8;            // scale of the type below which the pictures shrink with it
constexpr double smallest = 0.50, step = 0.02;  // scale of the type: 3.8 pt at the smallest

struct Size {
  double width, height;
};

Size size_of(Paper paper) {
  return paper == Paper::a4 ? Size{210.0, 297.0} : Size{215.9, 279.4};  // ISO 216; 8.5 in by 11 in
}

// One section of the page: draws at a place in the whole width and returns its height.
using Section = std::function<double(Layout&, Place, double)>;

// The lower part of the page, in two columns: last goes below the shorter one.
double columns(Layout& l, Place at, double width, const std::array<Section, 4>& parts) {
  const auto& [first, second, below_second, last] = parts;
  const double left = (width - between) * left_share;
  const Place right{at.x + left + between, at.y};
  const double apart = l.mm(2.5);
  double a = first(l, at, left);
  double b = second(l, right, width - between - left) + apart;
  b += below_second(l, {right.x, right.y + b}, width - between - left);
  if (a <= b) {
    a += apart;
    a += last(l, {at.x, at.y + a}, left);
  } else {
    b += apart;
    b += last(l, {right.x, right.y + b}, width - between - left);
  }
  return std::max(a, b);
}

Section side_by_side(Section left, Section right) {
  return [=](Layout& l, Place at, double width) {
    const double first = (width - between) * left_share;
    const double a = left(l, at, first);
    const double b = right(l, {at.x + first + between, at.y}, width - between - first);
    return std::max(a, b);
  };
}

Section grid_section(const Grid& g) {
  return [&g](Layout& l, Place at, double width) { return l.grid(at, width, g); };
}

Section remarks_section(const Remarks& r) {
  return [&r](Layout& l, Place at, double width) {
    const double h = l.heading(at, width, r.title);
    return h + l.list({at.x, at.y + h}, width, r.items);
  };
}

double head(Layout& l, const CalibrationSheet& s, Place at, double width) {
  const double right = width * 0.36;
  const double h = l.text(at, width - right, s.title, l.type(19, true));
  const double left = h + l.text({at.x, at.y + h}, width - right, s.subject, l.type(9));
  const double issued = l.text({at.x + width, at.y + l.mm(1.2)}, right, s.issuer, l.type(), Anchor::end);
  return std::max(left, issued + l.mm(1.2));
}

double origin(Layout& l, const CalibrationSheet& s, Place at, double width) {
  const double pad = l.mm(1.3);
  const double h =
      l.text({at.x + width / 2, at.y + pad}, width, s.origin_line, l.type(9.5, true), Anchor::middle);
  const double low = at.y + h + 2 * pad;
  for (const double y : {at.y, low}) l.line({at.x, y}, {at.x + width, y}, 0.7, ink_grey);
  for (const double x : {at.x, at.x + width}) l.line({x, at.y}, {x, low}, 0.7, ink_grey);
  return low - at.y;
}

// The results in one strip, each a small label above a large value.
double results(Layout& l, const CalibrationSheet& s, Place at, double width) {
  const double each = width / static_cast<double>(s.results.size());
  double low = 0.0;
  double x = at.x;
  l.line(at, {at.x + width, at.y}, 0.7, ink_grey);
  for (const auto& fact : s.results) {
    const double inner = each - l.mm(2);
    const double h = l.mm(1) + l.text({x, at.y + l.mm(1)}, inner, fact.label, l.type(6.8, false, soft_grey));
    low = std::max(low, h + l.text({x, at.y + h}, inner, fact.value, l.type(11, true)));
    x += each;
  }
  low += l.mm(1);
  l.line({at.x, at.y + low}, {at.x + width, at.y + low}, 0.7, ink_grey);
  return low;
}

double pictures(Layout& l, const CalibrationSheet& s, Place at, double width) {
  double y = at.y + l.heading(at, width, s.residuals_title);
  const auto count = static_cast<double>(s.residuals.size());
  const double each = (width - between * (count - 1)) / count;
  const double drawn = each * std::min(1.0, l.mm(1.0) / picture_from);
  double tallest = 0.0;
  double x = at.x;
  for (const auto& p : s.residuals) {
    tallest = std::max(tallest, l.picture({x + (each - drawn) / 2.0, y}, drawn, p));
    x += each + between;
  }
  y += tallest;
  y += l.text({at.x, y}, width, s.residuals_note, l.type(6.6, false, soft_grey));
  return y - at.y;
}

// Room to write by hand above each line, and what to write below it.
double signatures(Layout& l, const CalibrationSheet& s, Place at, double width) {
  const auto count = static_cast<double>(s.signatures.size());
  const double each = (width - between * (count - 1)) / count;
  const double room = 9.0;  // a hand does not shrink with the type
  double low = 0.0;
  double x = at.x;
  for (const auto& fact : s.signatures) {
    const double h = l.text({x, at.y}, each, fact.label, l.type(body_pt, true));
    const double y = at.y + h + room;
    l.line({x, y}, {x + each, y}, 0.2, ink_grey);
    low = std::max(low, h + room + l.text({x, y}, each, fact.value, l.type(6.6, false, soft_grey)));
    x += each + between;
  }
  return low;
}

double digests(Layout& l, const CalibrationSheet& s, Place at, double width) {
  l.line(at, {at.x + width, at.y}, 0.1, soft_grey);
  double y = at.y + l.mm(0.6);
  Type mono = l.type(6.0);
  mono.mono = true;
  const double label = width * 0.38;
  for (const auto& fact : s.digests) {
    const double a = l.text({at.x, y}, label, fact.label, l.type(6.4, false, soft_grey));
    y += std::max(a, l.text({at.x + width, y}, width - label, fact.value, mono, Anchor::end));
  }
  return y - at.y;
}

std::vector<Section> sections(const CalibrationSheet& s) {
  const auto part = [&s](auto draw) {
    return [&s, draw](Layout& l, Place at, double width) { return draw(l, s, at, width); };
  };
  std::vector<Section> all{part(head)};
  if (!s.origin_line.empty()) all.push_back(part(origin));
  all.push_back(part(results));
  all.push_back(side_by_side(grid_section(s.unit), grid_section(s.errors)));
  all.push_back(grid_section(s.runs));
  all.push_back(part(pictures));
  all.push_back(grid_section(s.fits));
  all.push_back([&s](Layout& l, Place at, double width) {
    return columns(l, at, width,
                   {grid_section(s.points), grid_section(s.budget), remarks_section(s.cautions),
                    remarks_section(s.statements)});
  });
  if (!s.signatures.empty()) all.push_back(part(signatures));
  all.push_back(part(digests));
  return all;
}

struct Fitted {
  double scale;
  std::vector<double> heights;
  double gap;
};

// The largest type in which the sections and the least gaps between them fill no more than the page.
Fitted fit(Canvas& canvas, const std::vector<Section>& all, Size paper) {
  const double room = paper.height - 2.0 * edge;
  const auto gaps = static_cast<double>(all.size() - 1);
  for (double scale = 1.0; scale >= smallest; scale -= step) {
    Layout measure(canvas, scale, false);
    Fitted f{scale, {}, 0.0};
    double sum = 0.0;
    for (const auto& section : all) {
      f.heights.push_back(section(measure, {side, edge}, paper.width - 2.0 * side));
      sum += f.heights.back();
    }
    f.gap = std::min(most_gap, (room - sum) / gaps);
    if (f.gap >= least_gap * scale) return f;
  }
  throw bad_input("the report does not fit on one page; shorten the issuer's texts");
}

}  // namespace

std::string calibration_pdf(const CalibrationSheet& sheet, Paper paper) {
  const Size size = size_of(paper);
  Canvas canvas(size.width, size.height, sheet.title + ": " + sheet.subject, sheet.dated_s);
  const auto all = sections(sheet);
  const Fitted f = fit(canvas, all, size);
  if (!sheet.origin.empty()) canvas.across(sheet.origin, 0.93);
  Layout draw(canvas, f.scale, true);
  const double width = size.width - 2.0 * side;
  double y = edge;
  for (std::size_t i = 0; i + 1 < all.size(); ++i) {
    all[i](draw, {side, y}, width);
    y += f.heights[i] + f.gap;
  }
  all.back()(draw, {side, size.height - edge - f.heights.back()}, width);  // digests stand at the foot
  return canvas.finish();
}

}  // namespace strandproof::host::report
