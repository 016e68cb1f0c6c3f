#include "sim/board/board.hpp"

#include <utility>

namespace strandproof::sim {
namespace {

using fault::Effect;
using fault::Place;
using port::Input;
using port::Output;

constexpr port::OutputBits motion = static_cast<port::OutputBits>(
    port::bit(Output::motor) | port::bit(Output::fast_stage) | port::bit(Output::advance_valve) |
    port::bit(Output::lower_valve) | port::bit(Output::seat_valve) | port::bit(Output::shut_off_valve));

bool has(port::OutputBits bits, Output output) {
  return (bits & port::bit(output)) != 0;
}

// A mirror contact follows its output after a delay.
void follow(bool& mirror, unsigned& lagged_ms, bool output, unsigned delay_ms) {
  if (mirror == output) {
    lagged_ms = 0;
  } else if (++lagged_ms >= delay_ms) {
    mirror = output;
    lagged_ms = 0;
  }
}

}  // namespace

SimBoard::SimBoard(const plant::Parameters& plant, const BoardParameters& board,
                   std::vector<fault::Fault> faults)
    : plant_{plant},
      parameters_{board},
      noise_{board.seed},
      pressure_a_{board.pressure_a},
      pressure_b_{board.pressure_b},
      stroke_{board.stroke},
      load_cell_{board.load_cell},
      oil_{board.oil_temperature},
      faults_{std::move(faults)} {}

Wiring SimBoard::wiring(Place place) const {
  if (faults_.on(place, Effect::open_circuit)) {
    return Wiring::open_circuit;
  }
  if (faults_.on(place, Effect::short_circuit)) {
    return Wiring::short_circuit;
  }
  return faults_.on(place, Effect::stuck) ? Wiring::stuck : Wiring::sound;
}

bool SimBoard::stop_circuit_open() const {
  return faults_.on(Place::emergency_stop_both, Effect::opens) ||
         faults_.on(Place::emergency_stop_1, Effect::opens);
}

std::uint16_t SimBoard::digital(const Pendant& hands) const {
  const bool stop = faults_.on(Place::emergency_stop_both, Effect::opens);
  const bool gate = faults_.on(Place::barrier_both, Effect::opens);
  unsigned bits = hands.bits();
  const auto set = [&bits](bool level, Input input) { bits |= level ? port::bit(input) : 0U; };
  set(!stop_circuit_open(), Input::emergency_stop_1);
  set(!stop, Input::emergency_stop_2);
  set(!gate && !faults_.on(Place::barrier_1, Effect::opens), Input::barrier_1);
  set(!gate, Input::barrier_2);
  set(true, Input::grip_closed);
  set(motor_mirror_, Input::contactor_mirror);
  set(shut_off_mirror_, Input::shut_off_mirror);
  set(true, Input::oil_level_ok);
  set(true, Input::supply_ok);
  return static_cast<std::uint16_t>(bits);
}

port::RawSample SimBoard::sample(const Pendant& hands) {
  const plant::Truth& t = plant_.truth();
  faults_.update(time_s(), t.F_strand_live, t.x_ram);
  const auto tick = static_cast<std::uint32_t>(ticks_ + parameters_.first_tick);
  const std::array<float, 4> normal = noise_.normal(static_cast<std::uint32_t>(ticks_), 0);
  if (ticks_ % 16 == 0) {  // the temperature transmitter converts slowly and holds in between
    oil_noise_ = noise_.normal(static_cast<std::uint32_t>(ticks_), 1)[0];
  }
  port::RawSample s;
  s.tick = tick;
  s.pressure_a = pressure_a_.sample(t.p_a, static_cast<double>(normal[0]), wiring(Place::pressure_a));
  s.pressure_b = pressure_b_.sample(t.p_b, static_cast<double>(normal[1]), wiring(Place::pressure_b));
  s.stroke = stroke_.sample(t.stroke, static_cast<double>(normal[2]), wiring(Place::stroke));
  if (parameters_.load_cell_fitted) {
    s.load_cell = load_cell_.sample(t.cell, static_cast<double>(normal[3]), Wiring::sound);
  }
  s.oil_temperature = oil_.sample(t.T_oil, static_cast<double>(oil_noise_), Wiring::sound);
  s.digital = digital(hands);
  return s;
}

void SimBoard::advance(std::optional<port::OutputBits> outputs) {
  if (outputs) {
    lease_.renew(*outputs);
  }
  driven_ = lease_.drive();
  if (stop_circuit_open()) {  // hard-wired: the supply of motor and valves is cut, whatever the controller
                              // wants
    driven_ = static_cast<port::OutputBits>(driven_ & ~motion);
  }
  follow(motor_mirror_, motor_ms_, has(driven_, Output::motor), parameters_.mirror_delay_ms);
  follow(shut_off_mirror_, shut_off_ms_, has(driven_, Output::shut_off_valve), parameters_.mirror_delay_ms);
  if (!broken_ && faults_.on(Place::strand, Effect::breaks)) {
    broken_ = true;
    plant_.break_strand();
  }
  const bool turns = has(driven_, Output::motor) && !faults_.on(Place::pump, Effect::stops);
  plant_.step({.motor = turns,
               .fast_stage = has(driven_, Output::fast_stage),
               .advance = has(driven_, Output::advance_valve),
               .lower = has(driven_, Output::lower_valve),
               .seat = has(driven_, Output::seat_valve),
               .shut_off_open = has(driven_, Output::shut_off_valve)});
  ++ticks_;
}

bool SimBoard::thread_strand() {
  if (!plant_.thread_strand()) {
    return false;
  }
  broken_ = false;
  for (const fault::Row& row : fault::table) {
    if (row.place == Place::strand) {
      faults_.end(row, time_s());  // the broken one is gone with its fault
    }
  }
  return true;
}

}  // namespace strandproof::sim
