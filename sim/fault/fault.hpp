// The fault table: every fault the bench can inject has one row and one name, the same in code,
// scenario, operator channel and document. A new kind is a new row here and, where it acts in a new
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
  stroke,
  strand,
  emergency_stop_1,
  emergency_stop_both,
  barrier_1,
  barrier_both,
  pump,
};

enum class Effect : std::uint8_t {
  open_circuit,   // the loop carries no current
  short_circuit,  // the loop carries all the current the converter can read
  stuck,          // the loop keeps the current it had, noise and all
  opens,          // a contact, gate or button opens
  breaks,         // every wire at once
  stops,          // turns no more
};

struct Row {
  std::string_view name;
  Place place;
  Effect effect;
  std::string_view what;  // one line for people
};

inline constexpr std::array<Row, 15> table{{
    {"pressure-a-open", Place::pressure_a, Effect::open_circuit,
     "the loop of pressure sensor A is cut: 0 mA"},
    {"pressure-a-short", Place::pressure_a, Effect::short_circuit,
     "the loop of pressure sensor A reads 24 mA"},
    {"pressure-a-stuck", Place::pressure_a, Effect::stuck, "pressure sensor A keeps its last current"},
    {"pressure-b-open", Place::pressure_b, Effect::open_circuit,
     "the loop of pressure sensor B is cut: 0 mA"},
    {"pressure-b-short", Place::pressure_b, Effect::short_circuit,
     "the loop of pressure sensor B reads 24 mA"},
    {"pressure-b-stuck", Place::pressure_b, Effect::stuck, "pressure sensor B keeps its last current"},
    {"stroke-open", Place::stroke, Effect::open_circuit, "the loop of the stroke sensor is cut: 0 mA"},
    {"stroke-short", Place::stroke, Effect::short_circuit, "the loop of the stroke sensor reads 24 mA"},
    {"stroke-stuck", Place::stroke, Effect::stuck, "the stroke sensor keeps its last current"},
    {"strand-break", Place::strand, Effect::breaks, "all wires of the strand break"},
    {"emergency-stop", Place::emergency_stop_both, Effect::opens, "the emergency stop is pressed"},
    {"emergency-stop-1-only", Place::emergency_stop_1, Effect::opens, "one contact of the stop opens alone"},
    {"barrier", Place::barrier_both, Effect::opens, "the barrier of the bed is opened"},
    {"barrier-1-only", Place::barrier_1, Effect::opens, "one contact of the barrier opens alone"},
    {"pump-dead", Place::pump, Effect::stops, "the pump turns no more though its contactor is closed"},
}};

enum class By : std::uint8_t { time, force, stroke };

// When a fault begins: the first tick at which the truth has reached the value.
struct Trigger {
  By by = By::time;
  double at = 0.0;  // s from the start of the run, N of true strand force, or m of ram position
};

struct Fault {
  const Row* row = nullptr;  // never null in a scenario
  Trigger trigger;
  double lasts = std::numeric_limits<double>::infinity();  // s; a break and a stopped pump do not heal
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
  void update(double time_s, double force_n, double stroke_m);
  void add(Fault fault);
  void end(const Row& row, double time_s);  // a person unlatches the stop, closes the gate

  [[nodiscard]] bool on(Place place, Effect effect) const;
  [[nodiscard]] const std::vector<Fault>& faults() const { return faults_; }
  // Time at which fault i began; negative: not yet.
  [[nodiscard]] double began(std::size_t i) const { return began_[i]; }

 private:
  std::vector<Fault> faults_;
  std::vector<double> began_;
  std::vector<bool> on_;
  bool pending_ = false;  // anything left to begin or end: spares the loop when nothing is
};

}  // namespace strandproof::sim::fault
