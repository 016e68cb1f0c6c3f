// Random jacks for the accuracy studies: every value is a function of the seed alone (counter-based, Philox
// 4x32-10 under sim/board/noise.hpp), so that a seed replays its jack whatever else was drawn.
#pragma once

#include <cstdint>

#include "sim/bench/scenario.hpp"
#include "sim/board/board.hpp"

namespace strandproof::sim {

// A jack with its pump, valves, oil and noise, and the scatter of one pull's friction against its rig's,
// within
// +-5 % of itself. 12.9 mm strand, 60 m, 15 and 130 kN, 48 cm2: the scenario's own defaults.
Scenario jack_of_seed(std::uint64_t seed);

// What is wrong with one pressure transmitter. Zero errors are shares of the span, gain errors relative.
struct SensorErrors {
  double gain = 0.0, zero = 0.0, linearity = 0.0;       // for good: the calibration takes them in
  double gain_drift = 0.0, zero_drift = 0.0;            // since the calibration
  double gain_per_kelvin = 0.0, zero_per_kelvin = 0.0;  // its own coefficients of temperature
};

// What the technician has on paper: the bounds that a case's errors are drawn within. Half widths are of
// rectangular distributions.
struct Declared {
  double reference = 0.0;       // expanded uncertainty of the reference cell, k = 2, relative to the reading
  double friction_share = 0.0;  // half width of the scatter of friction from pull to pull, of friction itself
  double temperature = 0.0;     // K, half width about the rig's, of the use that the table is good for
  double gain_per_kelvin = 0.0, zero_per_kelvin = 0.0;  // size of the coefficients; their sign is not known
  double gain_drift = 0.0, zero_drift = 0.0;            // half widths, until the due date
};

// One jack as it is calibrated and, one day, used.
struct Case {
  Scenario scenario;
  Declared declared;
  double cell_gain = 0.0, cell_zero = 0.0;  // errors of the reference cell; zero as a share of its span
  SensorErrors sensor[2];                   // channels A and B
  double run_scatter[3] = {};               // of friction in each run on the rig
  double use_scatter = 0.0;                 // of friction in the pull that is judged
  double use_kelvin = 0.0;                  // of the sensors in that pull, above the rig's temperature
  double use_share = 0.0;                   // of the way from the lowest judged force to the highest one
  int use_channel = 0;                      // the channel that is judged
};

Case case_of_seed(std::uint64_t seed);

// The rig's board, and that of the pull, with the case's errors in the channels.
BoardParameters rig_board(const Case& c, int run);
BoardParameters use_board(const Case& c);

}  // namespace strandproof::sim
