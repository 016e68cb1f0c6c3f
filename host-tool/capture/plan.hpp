// What a guided capture will read, in order, and what it is told about jack, sensors and reference cell.
// Values only: no line, no file, no clock.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "host-tool/gauge/runs.hpp"

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

// Exercises, then for each series: zero, up, down where asked for, zero. The largest set point is not read
// again on the way down: the ram turns round there, and friction with it.
std::vector<Step> steps(const Settings& settings);

// Largest distance from a set point at which a reading still counts for it. Increasing: 1.5 % of the largest
// set point; decreasing 5 %, because oil is let out faster than it is pumped. Never more than 0.4 of the gap
// to a neighbour. Common practice: the force that is read counts, the set point only names the repeats.
double band_n(const Settings& settings, const Step& step);

// Throws Problem (fault): set points that do not rise, or outside the cell's verified range with their band,
// a cell past its due date at now_s. (A cell's range below which it is not verified bars the set point, not
// zero.)
void check(const Settings& settings, const gauge::ReferenceCell& cell, std::int64_t now_s);

// Serials and origin of who answers, and those that the person read off the parts. Throws Problem (fault)
// naming the one that differs: that is another jack, or a sensor was changed or swapped.
struct Parts {
  std::uint32_t jack = 0, sensor_a = 0, sensor_b = 0;
  friend bool operator==(const Parts&, const Parts&) = default;
};
void check_parts(const Parts& declared, const Parts& found);

// done: the readings that a file already has. Throws Problem (fault) with file and line at the first one that
// the plan does not have in its place: the file was begun with other settings.
void check_resumed(const std::vector<Step>& plan, const std::vector<Step>& done, const std::string& file);

std::string name(const Step& step);  // "30000 N up of series 2"

}  // namespace strandproof::host::capture
