#include "sim/board/board.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstddef>
#include <cstring>
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
      ahead_{board.seed},
      channels_{{board.pressure_a, board.pressure_b, board.stroke, board.load_cell}},
      oil_{{board.oil_temperature}},
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

Upset SimBoard::upset(Place place) const {
  Upset u;
  if (const fault::Fault* f = faults_.active(place, Effect::gain)) {
    u.gain = f->amount();
  }
  if (const fault::Fault* f = faults_.active(place, Effect::offset)) {
    u.offset = f->amount();
  }
  if (const fault::Fault* f = faults_.active(place, Effect::drift)) {
    u.offset += f->amount() * (time_s() - faults_.since(*f)) / 60.0;
  }
  if (const fault::Fault* f = faults_.active(place, Effect::noise)) {
    u.noise = f->amount();
  }
  return u;
}

// Of a late sensor the past begins with the fault: until it is old enough the first value stands.
double SimBoard::seen(Place place, double now, std::vector<double>& past) const {
  const fault::Fault* late = faults_.active(place, Effect::late);
  if (late == nullptr) {
    past.clear();
    return now;
  }
  past.push_back(now);
  const auto ticks = static_cast<std::size_t>(late->amount() * 1e3 + 0.5);
  return past[past.size() > ticks ? past.size() - 1 - ticks : 0];
}

SimBoard::Counts SimBoard::upset_sample() {
  const plant::Truth& t = plant_.truth();
  Values values{t.p_a, t.p_b, t.stroke, t.cell}, normals = ahead_.normals();
  std::array<Wiring, lanes> wires{};
  const auto put = [&](Lane lane, Place place, std::vector<double>& past) {
    values[lane] = seen(place, values[lane], past);
    channels_.upset(lane, upset(place), values[lane], normals[lane]);
    wires[lane] = wiring(place);
  };
  put(pressure_a, Place::pressure_a, past_a_);
  put(pressure_b, Place::pressure_b, past_b_);
  put(stroke, Place::stroke, past_stroke_);
  if (faults_.on(Place::both_pressures, Effect::swapped)) {
    Counts swapped = channels_.sample(values, normals, wires);
    std::swap(swapped[pressure_a], swapped[pressure_b]);
    return swapped;
  }
  return channels_.sample(values, normals, wires);
}

std::uint16_t SimBoard::digital(const Pendant& hands) {
  pressed_ = hands.bits();
  return faults_.any() ? upset_digital() : static_cast<std::uint16_t>(pressed_ | contacts_);
}

std::uint16_t SimBoard::upset_digital() const {
  const bool stop = faults_.on(Place::emergency_stop_both, Effect::opens);
  const bool gate = faults_.on(Place::barrier_both, Effect::opens);
  unsigned bits = pressed_;
  const auto set = [&bits](bool level, Input input) { bits |= level ? port::bit(input) : 0U; };
  set(!stop_circuit_open(), Input::emergency_stop_1);
  set(!stop, Input::emergency_stop_2);
  set(!gate && !faults_.on(Place::barrier_1, Effect::opens), Input::barrier_1);
  set(!gate, Input::barrier_2);
  set(!faults_.on(Place::grip_contact, Effect::opens), Input::grip_closed);
  set(motor_mirror_, Input::contactor_mirror);
  set(shut_off_mirror_, Input::shut_off_mirror);
  set(!faults_.on(Place::oil_level, Effect::opens), Input::oil_level_ok);
  set(!faults_.on(Place::supply, Effect::opens), Input::supply_ok);
  const bool both = faults_.on(Place::enable_both, Effect::closes);
  set(both || faults_.on(Place::enable_1, Effect::closes), Input::enable_1);
  set(both, Input::enable_2);
  set(faults_.on(Place::advance_key, Effect::closes), Input::advance);
  const bool let_go = faults_.on(Place::enable_both, Effect::opens);
  if (let_go || faults_.on(Place::enable_1, Effect::opens)) {
    bits &= ~static_cast<unsigned>(port::bit(Input::enable_1));
  }
  if (let_go) {
    bits &= ~static_cast<unsigned>(port::bit(Input::enable_2));
  }
  return static_cast<std::uint16_t>(bits);
}

const port::RawSample& SimBoard::sample(const Pendant& hands) {
  const plant::Truth& t = plant_.truth();
  faults_.update(time_s_, t.F_strand_live, t.x_ram);
  sample_.tick = static_cast<std::uint32_t>(ticks_ + parameters_.first_tick);
  ahead_.turn_to(static_cast<std::uint32_t>(ticks_));
  if (ticks_ % 64 == 0) {  // the temperature transmitter converts slowly and holds in between
    sample_oil();
  }
  // Nearly every tick of a campaign is sound. What the sensors show lies in the order of the lanes.
  using plant::Sensed;
  static_assert(offsetof(Sensed, p_a) == pressure_a * sizeof(double) &&
                offsetof(Sensed, p_b) == pressure_b * sizeof(double) &&
                offsetof(Sensed, stroke) == stroke * sizeof(double) &&
                offsetof(Sensed, cell) == load_cell * sizeof(double));
  const Counts counts = faults_.any() ? upset_sample()
                                      : channels_.sample(std::bit_cast<Values>(static_cast<const Sensed&>(t)),
                                                         ahead_.normals());
  put(counts);
  sample_.digital = digital(hands);
  return sample_;
}

// All four at once, the cell's none where there is no cell: the controller copies them so, and a wide load
// waits for narrow stores.
inline void SimBoard::put(Counts counts) {
  static_assert(pressure_a == 0 && pressure_b == 1 && stroke == 2 && load_cell == 3);
  constexpr std::size_t first = offsetof(port::RawSample, pressure_a);
  static_assert(offsetof(port::RawSample, load_cell) == first + sizeof(Counts) - sizeof(std::uint16_t));
  static_assert(std::endian::native == std::endian::little && sizeof(Counts) == sizeof(std::uint64_t));
  const std::uint64_t no_cell = parameters_.load_cell_fitted ? 0 : std::uint64_t{0xFFFF} << (16U * load_cell);
  const std::uint64_t all = std::bit_cast<std::uint64_t>(counts) & ~no_cell;
  std::memcpy(reinterpret_cast<char*>(&sample_) + first, &all, sizeof all);
}

void SimBoard::sample_oil() {
  const float drawn = noise_.normal(static_cast<std::uint32_t>(ticks_), 1, 1)[0];
  sample_.oil_temperature = oil_.sample({plant_.truth().T_oil}, {static_cast<double>(drawn)})[0];
}

// Where the valve stands, for what its coil gets. waited_ms: of a slow one, the ticks that its coil has been
// on and it has not acted, or has been off and it still acts.
bool SimBoard::valve(Output output, Place place, unsigned& waited_ms) const {
  const bool coil = has(driven_, output);
  if (faults_.on(place, Effect::stuck_open)) {
    return true;
  }
  if (faults_.on(place, Effect::stuck_shut)) {
    return false;
  }
  const fault::Fault* slow = faults_.active(place, Effect::slow);
  if (slow == nullptr) {
    return coil;
  }
  const auto late = static_cast<unsigned>(slow->amount() * 1e3 + 0.5);
  waited_ms = coil ? std::min(waited_ms + 1, late) : (waited_ms == 0 ? 0 : waited_ms - 1);
  return coil ? waited_ms >= late : waited_ms > 0;
}

// Faults that the plant itself carries; a slip is done once, when it begins.
void SimBoard::ail_plant() {
  const auto amount = [this](Place place, Effect effect, double sound) {
    const fault::Fault* f = faults_.active(place, effect);
    return f == nullptr ? sound : f->amount();
  };
  const double length = parameters_.strand_length;
  const auto find_place = [&](Effect effect, double& at) {
    const fault::Fault* f = faults_.active(Place::strand, effect);
    at = f == nullptr ? at : f->distance(length);
  };
  find_place(Effect::loses_wires, wires_at_);
  find_place(Effect::snags, snag_at_);
  plant_.ail({.wires_lost = static_cast<unsigned>(amount(Place::strand, Effect::loses_wires, 0.0)),
              .free_length = amount(Place::strand, Effect::snags, 1.0),
              .wires_at = wires_at_,
              .snag_at = snag_at_,
              .abutment = amount(Place::abutments, Effect::yields, 1.0),
              .pump = amount(Place::pump, Effect::weak, 1.0),
              .relief = amount(Place::relief, Effect::lifts, 0.0),
              .T_oil = amount(Place::oil, Effect::cools, plant::Ailments::same),
              .air = amount(Place::oil, Effect::aerates, plant::Ailments::same),
              .a_at_pump = faults_.on(Place::pressure_a, Effect::at_pump),
              .b_at_pump = faults_.on(Place::pressure_b, Effect::at_pump),
              .hose_burst = faults_.on(Place::hose, Effect::bursts),
              .leak = amount(Place::holding_valve, Effect::leaks, 0.0),
              .piston_leak = amount(Place::piston, Effect::leaks, 0.0)});
  const fault::Fault* breaks = faults_.active(Place::strand, Effect::breaks);
  if (!broken_ && breaks != nullptr) {
    broken_ = true;
    plant_.break_strand(breaks->distance(length));
  }
  const std::array<std::pair<Place, plant::Slip>, 3> slips{{{Place::dead_end, plant::Slip::dead_end},
                                                            {Place::live_end, plant::Slip::live_end},
                                                            {Place::grip, plant::Slip::grip}}};
  for (const auto& [place, where] : slips) {
    const fault::Fault* f = faults_.active(place, Effect::slips);
    if (f != nullptr && faults_.since(*f) == time_s()) {
      plant_.slip(where, f->amount());
    }
  }
  faults_known_ = faults_.changes();
}

void SimBoard::advance(std::optional<port::OutputBits> outputs) {
  if (outputs) {
    lease_.renew(*outputs);
  }
  const port::OutputBits allowed = lease_.drive();
  if (!settled_ || allowed != driven_ || faults_known_ != faults_.changes()) {
    turn(allowed);
  }
  plant_.step(drive_);
  ++ticks_;
  time_s_ = static_cast<double>(static_cast<std::int64_t>(ticks_)) * 1e-3;
}

void SimBoard::turn(port::OutputBits allowed) {
  driven_ = allowed;
  if (faults_.on(Place::supply, Effect::dies)) {
    driven_ = 0;
  }
  if (stop_circuit_open()) {  // hard-wired: the supply of motor and valves is cut, whatever the controller
                              // wants
    driven_ = static_cast<port::OutputBits>(driven_ & ~motion);
  }
  turned_ = turned_ || has(driven_, Output::motor);
  const bool closed = has(driven_, Output::motor) || (turned_ && faults_.on(Place::contactor, Effect::stuck));
  if (!faults_.on(Place::contactor_mirror, Effect::stuck)) {
    follow(motor_mirror_, motor_ms_, closed, parameters_.mirror_delay_ms);
  }
  const auto stands = [&](Output output, Place place, unsigned& waited_ms) {
    return faults_.any() ? valve(output, place, waited_ms) : has(driven_, output);
  };
  const bool shut_off = stands(Output::shut_off_valve, Place::shut_off_valve, shut_off_wait_);
  if (!faults_.on(Place::shut_off_mirror, Effect::stuck)) {
    follow(shut_off_mirror_, shut_off_ms_, shut_off, parameters_.mirror_delay_ms);
  }
  if (faults_known_ != faults_.changes()) {
    ail_plant();
  }
  drive_ = {.motor = closed && !faults_.on(Place::pump, Effect::stops),
            .fast_stage = has(driven_, Output::fast_stage),
            .advance = stands(Output::advance_valve, Place::advance_valve, advance_wait_),
            .lower = stands(Output::lower_valve, Place::lower_valve, lower_wait_),
            .seat = stands(Output::seat_valve, Place::seat_valve, seat_wait_),
            .shut_off_open = shut_off};
  contacts_ = static_cast<std::uint16_t>(healthy | (motor_mirror_ ? port::bit(Input::contactor_mirror) : 0U) |
                                         (shut_off_mirror_ ? port::bit(Input::shut_off_mirror) : 0U));
  settled_ = !faults_.any() && motor_mirror_ == closed && shut_off_mirror_ == shut_off;
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
