// What a guided capture will read, in order, and what it is told about jack, sensors and reference cell.
// Values only: no line, no file, no clock.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace strandproof::host::capture {

enum class Kind { exercise, zero, up, down };

struct Step {
  Kind kind;
  int series;       // from 1; 0 for the exercises
  int set_point_n;  // 0 for a zero, the largest set point for an exercise
  friend bool operator==(const Step&, const Step&) = default;
};

struct Settings {
  std::vector<int> set_points_n;  // rising, each above 0
  int series = 3;                 // increasing runs, 1 to 20
  int down_series = 1;            // of them, how many of the last also go down; 0 to series
  int exercises = 3;              // to the largest set point before the first reading
  bool typed = true;              // the cell's value is typed twice; else it comes on a line of its own
};

// The reference cell as its certificate and the person declare it.
struct ReferenceCell {
  std::string serial;
  std::string standard_class;  // of ISO 376: "00", "0.5", "1" or "2"; of ASTM E74: "A" or "AA"
  int low_n = 0, high_n = 0;   // verified range
  std::int64_t due_s = 0;      // seconds since 1970 UTC
};

// Exercises, then for each series: zero, up, down where asked for, zero. The largest set point is not read
// again on the way down: the ram turns round there, and friction with it.
std::vector<Step> steps(const Settings& settings);

// Largest distance from a set point at which a reading still counts for it. Increasing: 1.5 % of the largest
// set point; decreasing 5 %, because oil is let out faster than it is pumped. Never more than 0.4 of the gap
// to a neighbour. Common practice: the force that is read counts, the set point only names the repeats.
double band_n(const Settings& settings, const Step& step);

// Throws Problem (fault): set points that do not rise, or outside the cell's verified range, a cell past its
// due date at now_s, a class that is none.
void check(const Settings& settings, const ReferenceCell& cell, std::int64_t now_s);

// done: the readings that a file already has. Throws Problem (fault) with file and line at the first one that
// the plan does not have in its place: the file was begun with other settings.
void check_resumed(const std::vector<Step>& plan, const std::vector<Step>& done, const std::string& file);

std::string name(const Step& step);  // "30000 N up of series 2"

}  // namespace strandproof::host::capture
