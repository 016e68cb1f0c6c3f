// The fault table: every fault the bench can inject has one row and one name, the same in code,
// scenario, operator channel, campaign and document. A new kind is a new row here and, where it acts in a new
// way, one more Effect in sim/board.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <string_view>
#include <vector>

namespace strandproof::sim::fault {

enum class Place : std::uint8_t {
  pressure_a,
  pressure_b,
  both_pressures,
  stroke,
  strand,
  dead_end,
  live_end,
  grip,
  abutments,
  emergency_stop_1,
  emergency_stop_both,
  barrier_1,
  barrier_both,
  enable_1,
  enable_both,
  advance_key,
  grip_contact,
  oil_level,
  supply,
  contactor_mirror,
  shut_off_mirror,
  advance_valve,
  lower_valve,
  seat_valve,
  shut_off_valve,
  pump,
  contactor,
  relief,
  hose,
  holding_valve,
  piston,
  oil,
  controller,
  link,
};

enum class Effect : std::uint8_t {
  open_circuit,   // the loop carries no current
  short_circuit,  // the loop carries all the current the converter can read
  stuck,          // keeps what it had: a loop its current, noise and all; a mirror contact its level
  gain,           // the reading is off by this share of itself
  offset,         // by this share of the span
  drift,          // by this share of the span more each minute
  noise,          // this many times the noise
  late,           // the reading is this old
  swapped,        // A's wire at B's terminal and B's at A's
  opens,          // a contact, gate or button opens
  closes,         // reads pressed, whatever the hand does
  breaks,         // every wire at once
  loses_wires,    // this many of the seven wires
  snags,          // only this share of the length is free to stretch
  slips,          // by this much, at once
  yields,         // the stiffness is this share of what it was
  stuck_open,     // stays energised, or flows freely
  stuck_shut,     // does not act
  slow,           // acts this much later
  stops,          // turns no more
  weak,           // delivers this share
  lifts,          // opens at this pressure
  bursts,
  leaks,    // this flow at 30 MPa
  misses,   // ticks are not worked
  drags,    // this share of the ticks is not worked
  at_pump,  // the tap lies before the load-holding valve
  dies,     // gives nothing until it ends, and then begins anew
  cools,    // to this temperature
  aerates,  // to this share of air
  floods,   // this many bytes a millisecond
};

// What a size is measured in; the unit that people write follows from it.
enum class Measure : std::uint8_t { none, share, count, length, time, pressure, flow, temperature };

struct Row {
  std::string_view name;
  Place place;
  Effect effect;
  Measure measure;
  double size;            // where the scenario gives none; SI
  std::string_view what;  // one line for people
  std::string_view harm;  // what it does if nobody notices
};

// clang-format off
inline constexpr std::array<Row, 71> table{{
#define FAULT(name, place, effect, measure, size, what, harm) \
  {name, Place::place, Effect::effect, Measure::measure, size, what, harm},
#include "sim/fault/table.def"
#undef FAULT
}};
// clang-format on

enum class By : std::uint8_t { time, force, stroke, state };

// When a fault begins: the first tick at which the truth has reached the value, or after the controller has
// shown the state.
struct Trigger {
  By by = By::time;
  double at = 0.0;  // s from the start of the run, N of true strand force, m of ram position, or the number
                    // of a state in proto/catalogue.def
};

struct Fault {
  const Row* row = nullptr;  // never null in a scenario
  Trigger trigger;
  double lasts = std::numeric_limits<double>::infinity();           // s; what broke or slipped does not heal
  double size = std::numeric_limits<double>::quiet_NaN();           // not a number: the row's
  double from_live_end = std::numeric_limits<double>::quiet_NaN();  // m, of what happens along the strand;
                                                                    // not a number: in its middle

  [[nodiscard]] double amount() const { return size == size ? size : row->size; }
  // m; never beyond the dead end of a strand of this length.
  [[nodiscard]] double distance(double length) const {
    if (row->place == Place::dead_end) {
      return length;
    }
    return from_live_end == from_live_end ? (from_live_end < length ? from_live_end : length) : 0.5 * length;
  }
};

// The row of this name, or nullptr.
const Row* find(std::string_view name);
// All names in the table's order.
std::vector<std::string_view> names();

// Follows one run: says when a fault begins and whether it is on. Begun faults stay counted even
// if they have ended, so that a check can tell a fault that never bit.
class Watch {
 public:
  explicit Watch(std::vector<Fault> faults);
  // Called once a tick with the truth; true force in N, ram position in m.
  void update(double time_s, double force_n, double stroke_m) {
    if (pending_) {
      begin_and_end(time_s, force_n, stroke_m);
    }
  }
  void shown(std::uint8_t state) { state_ = state; }  // by the controller, in the last tick that it worked
  void add(Fault fault);
  void end(const Row& row, double time_s);  // a person unlatches the stop, closes the gate

  [[nodiscard]] bool on(Place place, Effect effect) const { return active(place, effect) != nullptr; }
  // The first fault that is on there and acts so; nullptr if there is none.
  [[nodiscard]] const Fault* active(Place place, Effect effect) const {
    return any() ? search(place, effect) : nullptr;
  }
  // Since when that fault has been on, s; 0 without one.
  [[nodiscard]] double since(const Fault& fault) const;
  // Anything at all is on: spares the questions when nothing is.
  [[nodiscard]] bool any() const { return on_count_ > 0; }
  // Rises whenever a fault begins or ends.
  [[nodiscard]] std::uint32_t changes() const { return changes_; }
  [[nodiscard]] const std::vector<Fault>& faults() const { return faults_; }
  // Time at which fault i began; negative: not yet.
  [[nodiscard]] double began(std::size_t i) const { return began_[i]; }

 private:
  void turn(std::size_t i, bool on);
  void begin_and_end(double time_s, double force_n, double stroke_m);
  [[nodiscard]] const Fault* search(Place place, Effect effect) const;

  std::vector<Fault> faults_;
  std::vector<double> began_;
  std::vector<bool> on_;
  std::size_t on_count_ = 0;
  std::uint32_t changes_ = 0;
  std::uint8_t state_ = 0;
  bool pending_ = false;  // anything left to begin or end: spares the loop when nothing is
};

}  // namespace strandproof::sim::fault
