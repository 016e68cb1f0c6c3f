// The interlock table: one row a cause. Where the row acts, whether it latches, and what a person may
// choose after the reset. The predicates are computed in the shell; this table and the core know only
// which row is active.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/control/names.hpp"

namespace strandproof::control {

// Groups of states in which a row is looked at.
enum Where : std::uint8_t {
  in_pull = 1,  // slack to settle, and stopped with load on the jack
  in_seat = 2,  // and while the ram goes back for the next stroke
  in_lower = 4,
  in_modes = 8,  // set-up and rig
  in_ready = 16,
  in_rest = 32,  // ended
};
inline constexpr std::uint8_t in_motion = in_pull | in_seat | in_lower | in_modes;

// What may be chosen after it.
enum Allow : std::uint8_t { go_on = 1, seat_it = 2, lower_it = 4 };

struct Interlock {
  Cause cause;
  std::uint8_t where;
  bool latched;         // needs a reset at the pendant
  bool until_gone;      // the reset is refused while the cause is still there
  bool search_bed;      // the reset also needs "bed searched and clear"
  bool replace_strand;  // the strand is marked "must be replaced"
  std::uint8_t allow;
};

// Order is priority: the first active row is the first cause.
inline constexpr std::array interlocks{
    Interlock{Cause::h16_stop_circuit, in_motion | in_ready | in_rest, true, true, false, false, lower_it},
    Interlock{Cause::emergency_stop, in_motion | in_ready, true, true, true, false,
              go_on | seat_it | lower_it},
    Interlock{Cause::h47_barrier_open, in_motion | in_ready, true, true, true, false,
              go_on | seat_it | lower_it},
    Interlock{Cause::h44_not_a_number, in_pull, true, false, false, false, seat_it | lower_it},
    Interlock{Cause::h20_table_changed, in_pull, true, false, false, false, seat_it | lower_it},
    Interlock{Cause::h04_signal_lost, in_pull, true, false, false, false, seat_it | lower_it},
    Interlock{Cause::h02_dead_headed, in_pull | in_modes, true, false, false, false, lower_it},
    Interlock{Cause::h01_over_force, in_pull, true, false, false, false, lower_it},
    Interlock{Cause::h14_strand_break, in_pull, true, false, false, true, lower_it},
    Interlock{Cause::h05_signal_stuck, in_pull, true, false, false, false, lower_it},
    Interlock{Cause::h06_channels_disagree, in_pull, true, false, false, false, lower_it},
    Interlock{Cause::h11_no_motion, in_pull | in_seat, true, false, false, false, go_on | seat_it | lower_it},
    Interlock{Cause::h17_enable_held, in_motion, true, true, false, false, go_on | seat_it | lower_it},
    Interlock{Cause::h53_force_lost, in_pull, true, false, false, false, seat_it | lower_it},
    Interlock{Cause::elongation_high, in_pull, true, false, false, false, seat_it | lower_it},
    Interlock{Cause::elongation_low, in_pull, true, false, false, false, seat_it | lower_it},
    Interlock{Cause::stroke_end, in_pull, true, false, false, false, seat_it | lower_it},
    Interlock{Cause::slack_limit, in_pull, true, false, false, false, lower_it},
    Interlock{Cause::phase_time, in_pull | in_seat | in_lower, true, false, false, false,
              go_on | seat_it | lower_it},
    Interlock{Cause::settle_fall, in_pull, true, false, false, false, seat_it | lower_it},
};

// Stops that are not hazards: not latched, a fresh press goes on.
inline constexpr Interlock enable_released_row{
    Cause::enable_released, in_motion, false, false, false, false, go_on | seat_it | lower_it};
inline constexpr Interlock power_returned_row{Cause::power_returned, in_pull, false, false, false, false,
                                              seat_it | lower_it};

// The row of a cause. Every cause that can stop the machine has exactly one.
[[nodiscard]] constexpr const Interlock& interlock_of(Cause cause) {
  for (const Interlock& row : interlocks) {
    if (row.cause == cause) {
      return row;
    }
  }
  return cause == Cause::power_returned ? power_returned_row : enable_released_row;
}

// A row whose limit is a lowest value; all others have a highest one, or only say yes or no.
[[nodiscard]] constexpr bool limit_is_lowest(Cause cause) {
  return cause == Cause::elongation_low;
}

// Its place in the table, looked up twenty times a tick; behind the last one for a cause that has none there.
inline constexpr std::array row_by_cause = [] {
  std::array<std::uint8_t, 128> rows{};
  rows.fill(static_cast<std::uint8_t>(interlocks.size()));
  for (unsigned i = 0; i < interlocks.size(); ++i) {
    rows[static_cast<unsigned>(interlocks[i].cause)] = static_cast<std::uint8_t>(i);
  }
  return rows;
}();
[[nodiscard]] constexpr unsigned row_of(Cause cause) {
  return row_by_cause[static_cast<unsigned>(cause)];
}

// A bit for each row, in the order of the table: the lowest one that is set is the first cause.
using Rows = std::uint32_t;
static_assert(interlocks.size() < 32);
[[nodiscard]] constexpr Rows row_bit(Cause cause) {
  return Rows{1} << row_of(cause);
}
// The rows that act in any of these groups of states.
[[nodiscard]] constexpr Rows rows_in(std::uint8_t where) {
  Rows rows = 0;
  for (const Interlock& row : interlocks) {
    rows |= (row.where & where) != 0 ? row_bit(row.cause) : 0U;
  }
  return rows;
}

constexpr bool each_cause_once() {
  for (unsigned i = 0; i < interlocks.size(); ++i) {
    for (unsigned j = i + 1; j < interlocks.size(); ++j) {
      if (interlocks[i].cause == interlocks[j].cause) {
        return false;
      }
    }
  }
  return true;
}
static_assert(each_cause_once(), "a hazard has one row");

// From every stop the load can be lowered.
constexpr bool always_lowerable() {
  for (const Interlock& row : interlocks) {
    if ((row.allow & lower_it) == 0) {
      return false;
    }
  }
  return true;
}
static_assert(always_lowerable(), "lowering is never forbidden by a cause");

}  // namespace strandproof::control
