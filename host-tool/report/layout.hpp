// Texts, tables and pictures set out on a canvas, at one scale of type; or only measured. Each function takes
// an upper left corner and a width and returns the height that it needs, mm.
#pragma once

#include <string>
#include <vector>

#include "host-tool/report/calibration.hpp"
#include "host-tool/report/canvas.hpp"

namespace strandproof::host::report {

inline constexpr double body_pt = 7.6;  // of the type at full size
inline constexpr double ink_grey = 0.11, soft_grey = 0.36;

class Layout {
 public:
  // scale: 1 is full size; draw: false only measures.
  Layout(Canvas& canvas, double scale, bool draw) : canvas_{canvas}, scale_{scale}, draw_{draw} {}

  // A length that shrinks with the type.
  [[nodiscard]] double mm(double at_full_size) const { return at_full_size * scale_; }
  [[nodiscard]] Type type(double pt = body_pt, bool bold = false, double grey = ink_grey) const {
    return {.size_pt = pt * scale_, .bold = bold, .grey = grey};
  }

  double text(Place at, double width, const std::string& text, const Type& type,
              Anchor anchor = Anchor::start);
  void line(Place from, Place to, double width_mm, double grey);
  double heading(Place at, double width, const std::string& title);
  double grid(Place at, double width, const Grid& grid);
  double picture(Place at, double width, const Picture& picture);
  double list(Place at, double width, const std::vector<std::string>& items);

 private:
  // Where a grid's columns lie: right edges of their texts, left edges, and the type that lets them fit.
  struct Columns {
    std::vector<double> start, width;
    double shrink;
  };
  [[nodiscard]] Columns columns_of(const Grid& grid, double width);
  double groups(Place at, const Grid& grid, const Columns& columns, const Type& type);
  double cells(Place at, const Grid& grid, const Columns& columns, const std::vector<std::string>& row,
               const Type& type);

  Canvas& canvas_;
  double scale_;
  bool draw_;
};

}  // namespace strandproof::host::report
