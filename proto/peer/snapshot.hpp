// What a trip left behind, out of the records that hold it (SPEC.md, section 12).
#pragma once

#include <cstdint>
#include <vector>

#include "proto/peer/rows.hpp"

namespace strandproof::proto {

// One row of the interlock table, as it was in the tick of the trip.
struct Margin {
  std::uint32_t cause = 0;
  std::int64_t value = 0, limit = 0;  // unit by cause; both 0 where a row only says yes or no
  bool active = false;
  bool lowest = false;  // the limit is a lowest value
  // What was left to the limit; 0 or less: at it or beyond.
  [[nodiscard]] std::int64_t left() const { return lowest ? value - limit : limit - value; }
};

struct TripSample {
  std::int32_t at_ms = 0;                                                // after the trip
  std::uint16_t pressure_a = 0, pressure_b = 0, stroke = 0, inputs = 0;  // counts of the converter, and bits
  std::uint8_t outputs = 0;
};

// From one sample to another, both included, in ms after the trip.
struct TripSpan {
  std::int32_t from_ms = 0, to_ms = 0;
  friend bool operator==(const TripSpan&, const TripSpan&) = default;
};

struct TripSnapshot {
  wire::Snapshot head;  // part 0; its part is not 0 where it is missing
  std::vector<Margin> margins;
  std::vector<TripSample> samples;
  std::uint32_t total = 0;        // samples that the jack had; 0: no part of them was written
  std::vector<TripSpan> missing;  // of them
};

// parts: the Snapshot records of one trip, in any order. One that can not be read counts as missing.
TripSnapshot snapshot_of(std::vector<wire::Snapshot> parts);

// Of a count of the converter, 0 to 65535 for 0 to 24 mA, over a sensor that has its zero at 4 mA and its
// span at 20 mA: below 4 mA the value is negative.
double measured_of(std::uint16_t counts, double span);

}  // namespace strandproof::proto
