// A sheet of paper that texts, lines and areas are drawn on, and its PDF. Lengths in mm from the upper left
// corner, sizes of type in points. Cairo and Pango are seen in canvas.cpp and nowhere else.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "host-tool/report/picture.hpp"

namespace strandproof::host::report {

// DejaVu Sans Condensed, and DejaVu Sans Mono for digests (Debian: fonts-dejavu-core, fonts-dejavu-extra).
struct Type {
  double size_pt;
  bool bold = false;
  bool mono = false;
  double grey = 0.11;  // 0: black, 1: white
};

struct Pen {
  double width_mm;
  double grey;
};

class Canvas {
 public:
  // title, dated_s (UTC) and what made it go into the file's description; nothing else of the time or the
  // machine does. Throws Problem (fault) if the font is not installed.
  Canvas(double width_mm, double height_mm, const std::string& title, std::int64_t dated_s);
  ~Canvas();
  Canvas(const Canvas&) = delete;
  Canvas& operator=(const Canvas&) = delete;

  // Width of one line, mm.
  [[nodiscard]] double text_width(const std::string& text, const Type& type);
  // Height of the text broken into lines of this width, mm.
  [[nodiscard]] double text_height(const std::string& text, const Type& type, double width_mm);
  // Draws it with its upper edge at the place; anchor says which edge of the width is at x, and how the lines
  // stand in it. Returns its height.
  double text(Place at, double width_mm, const std::string& text, const Type& type,
              Anchor anchor = Anchor::start);
  // One line on a base line; turned: reads upwards.
  void label(const Label& label, const Type& type);
  // One line across the whole sheet, as large as it can be, behind what is drawn later.
  void across(const std::string& text, double grey);

  void line(Place from, Place to, const Pen& pen);
  void area(const std::vector<Place>& corners, double grey);
  void outline(const std::vector<Place>& corners, const Pen& pen);

  // The PDF. Nothing can be drawn afterwards.
  [[nodiscard]] std::string finish();

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace strandproof::host::report
