#include "host-tool/report/layout.hpp"

#include <algorithm>

namespace strandproof::host::report {
namespace {

constexpr double gap_mm = 2.4;  // between columns at full size
constexpr double rule_grey = 0.80;

Pen pen_of(Ink ink) {
  if (ink == Ink::grid) return {0.12, 0.80};
  return ink == Ink::frame ? Pen{0.2, soft_grey} : Pen{0.25, ink_grey};
}

}  // namespace

double Layout::text(Place at, double width, const std::string& text, const Type& type, Anchor anchor) {
  if (text.empty()) return 0.0;
  return draw_ ? canvas_.text(at, width, text, type, anchor) : canvas_.text_height(text, type, width);
}

void Layout::line(Place from, Place to, double width_mm, double grey) {
  if (draw_) canvas_.line(from, to, {width_mm, grey});
}

double Layout::heading(Place at, double width, const std::string& title) {
  line(at, {at.x + width, at.y}, 0.35, ink_grey);
  const double above = mm(0.9);
  return above + text({at.x, at.y + above}, width, title, type(8.6, true)) + mm(0.5);
}

// Each column as wide as its widest text. What is left over goes to all gaps alike; what is missing shrinks
// the type of this grid.
Layout::Columns Layout::columns_of(const Grid& g, double width) {
  Columns c{{}, std::vector<double>(g.headings.size(), 0.0), 1.0};
  const auto widen = [&](const std::vector<std::string>& row) {
    for (std::size_t i = 0; i < row.size(); ++i) {
      c.width[i] = std::max(c.width[i], canvas_.text_width(row[i], type()));
    }
  };
  widen(g.headings);
  for (const auto& row : g.rows) widen(row);
  const auto gaps = static_cast<double>(g.headings.size() - 1);
  double texts = 0.0;
  for (const double w : c.width) texts += w;
  c.shrink = std::min(1.0, width / (texts + mm(gap_mm) * gaps));
  const double gap = (width - texts * c.shrink) / gaps;
  double x = 0.0;
  for (auto& w : c.width) {
    w *= c.shrink;
    c.start.push_back(x);
    x += w + gap;
  }
  return c;
}

double Layout::cells(Place at, const Grid& g, const Columns& c, const std::vector<std::string>& row,
                     const Type& type) {
  constexpr double slack = 0.3;  // so that rounding never breaks a line that was measured to fit
  double height = 0.0;
  for (std::size_t i = 0; i < row.size(); ++i) {
    const bool from_left = i < g.left;
    const Place place{at.x + c.start[i] + (from_left ? 0.0 : c.width[i]), at.y};
    height = std::max(height,
                      text(place, c.width[i] + slack, row[i], type, from_left ? Anchor::start : Anchor::end));
  }
  return height;
}

double Layout::groups(Place at, const Grid& g, const Columns& c, const Type& type) {
  double height = 0.0;
  std::size_t first = 0;
  for (const auto& group : g.groups) {
    const std::size_t last = first + group.columns - 1;
    const double left = at.x + c.start[first];
    const double right = at.x + c.start[last] + c.width[last];
    if (!group.text.empty()) {
      const double h = text({(left + right) / 2.0, at.y}, right - left, group.text, type, Anchor::middle);
      line({left, at.y + h}, {right, at.y + h}, 0.15, soft_grey);
      height = std::max(height, h + mm(0.3));
    }
    first = last + 1;
  }
  return height;
}

double Layout::grid(Place at, double width, const Grid& g) {
  double y = at.y + heading(at, width, g.title);
  const Columns c = columns_of(g, width);
  const double pt = body_pt * c.shrink;
  if (!g.groups.empty()) y += groups({at.x, y}, g, c, type(pt, true, soft_grey));
  y += cells({at.x, y}, g, c, g.headings, type(pt, false, soft_grey)) + mm(0.4);
  for (const auto& row : g.rows) {
    line({at.x, y}, {at.x + width, y}, 0.1, rule_grey);
    y += cells({at.x, y + mm(0.25)}, g, c, row, type(pt)) + mm(0.5);
  }
  if (!g.note.empty()) y += text({at.x, y + mm(0.3)}, width, g.note, type(6.6, false, soft_grey)) + mm(0.3);
  return y - at.y;
}

double Layout::picture(Place at, double width, const Picture& p) {
  const double f = width / p.width_mm;
  if (!draw_) return p.height_mm * f;
  const auto to = [&](Place q) { return Place{at.x + q.x * f, at.y + q.y * f}; };
  const auto all = [&](std::vector<Place> corners) {
    for (auto& q : corners) q = to(q);
    return corners;
  };
  for (const auto& a : p.areas) canvas_.area(all(a.corners), 0.88);
  for (const auto& l : p.lines) canvas_.line(to(l.from), to(l.to), pen_of(l.ink));
  for (const auto& m : p.marks) {
    const auto corners = all(triangle(m));
    canvas_.area(corners, m.up ? ink_grey : 1.0);
    canvas_.outline(corners, {0.16, ink_grey});
  }
  for (auto l : p.labels) {
    l.at = to(l.at);
    canvas_.label(l, type(6.6, false, soft_grey));
  }
  return p.height_mm * f;
}

double Layout::list(Place at, double width, const std::vector<std::string>& items) {
  const double indent = mm(2.6);
  double y = at.y;
  for (const auto& item : items) {
    text({at.x, y}, indent, "•", type());
    y += text({at.x + indent, y}, width - indent, item, type()) + mm(0.4);
  }
  return y - at.y;
}

}  // namespace strandproof::host::report
