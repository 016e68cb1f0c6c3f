// Messages into control's own types. Integers of the wire become floats here and nowhere else.
#pragma once

#include <cstdint>
#include <span>

#include "firmware/control/gauge_table.hpp"
#include "firmware/control/inputs.hpp"
#include "firmware/control/instruction.hpp"
#include "firmware/control/settings.hpp"
#include "firmware/port/device.hpp"
#include "firmware/port/sample.hpp"
#include "strandproof/wire.nanopb.h"

namespace strandproof::app {

[[nodiscard]] control::PullInstruction from_wire(const strandproof_wire_PullInstruction& m);

// Decodes the bytes of a table that were verified before they were stored.
[[nodiscard]] bool decode_table(std::span<const std::uint8_t> bytes, strandproof_wire_GaugeTable& into);

// table_points or table_not_rising if a column may not be used. Decreasing columns may be absent.
[[nodiscard]] control::Refusal from_wire(const strandproof_wire_GaugeTable& m, control::GaugeTable& into);

[[nodiscard]] control::Jack jack_of(const port::Device& d);

[[nodiscard]] control::Switches switches_of(std::uint16_t digital);
[[nodiscard]] inline control::AnalogCounts analog_of(const port::RawSample& s) {
  return {s.pressure_a, s.pressure_b, s.stroke, s.load_cell, s.oil_temperature};
}
[[nodiscard]] control::Inputs inputs_of(const port::RawSample& s, units::Ticks now);

[[nodiscard]] port::OutputBits bits_of(const control::Commands& c);

}  // namespace strandproof::app
