// A small picture as plain shapes in millimetres, drawn the same on paper (canvas.hpp) and on the screen
// (SVG). Its texts are this program's own words and numbers, never foreign ones: SVG takes them as they are.
#pragma once

#include <string>
#include <vector>

namespace strandproof::host::report {

struct Place {
  double x, y;  // mm from the upper left corner
};

// What a shape is, which decides how it looks; never by colour alone.
enum class Ink { frame, grid, strong, band };

struct Line {
  Place from, to;
  Ink ink;
};

struct Area {
  std::vector<Place> corners;
  Ink ink;
};

// One reading: a filled triangle that points up for an increasing force, an open one that points down for a
// decreasing one.
struct Mark {
  Place at;  // its centre
  bool up;
};

enum class Anchor { start, middle, end };

struct Label {
  Place at;  // on the base line
  std::string text;
  Anchor anchor;
  bool turned = false;  // reads upwards
};

struct Picture {
  std::string title;  // what it shows, also for those who hear it
  double width_mm, height_mm;
  std::vector<Area> areas;  // drawn in this order: areas, lines, marks, labels
  std::vector<Line> lines;
  std::vector<Mark> marks;
  std::vector<Label> labels;
};

// The corners of a reading's triangle.
std::vector<Place> triangle(const Mark& mark);

// The step of an axis: the next of 1, 2, 5 times a power of ten that cuts `most` into at most seven steps.
double step_for(double most);

// As one SVG element that needs no style from elsewhere.
std::string picture_svg(const Picture& picture);

}  // namespace strandproof::host::report
