// From what control knows to the bytes of a stored record: one encoded wire.Record each.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "firmware/app/clock.hpp"
#include "firmware/control/controller.hpp"
#include "firmware/port/device.hpp"
#include "firmware/record/chain.hpp"
#include "strandproof/wire.nanopb.h"

namespace strandproof::app {

enum class EventCode : std::uint32_t {
#define EVENT(number, id, text, detail) id = number,
#include "proto/catalogue.def"
};

// What a trip with this cause is called on record: a hazard row only where it is one.
[[nodiscard]] EventCode trip_event(control::Cause cause);

struct EventNote {
  EventCode code;
  std::uint32_t detail = 0;
  std::int32_t value = 0;  // what met the limit
  std::int32_t limit = 0;
};

// Everything a record is stamped with besides its own content.
struct Stamp {
  const control::Controller& controller;
  const port::Device& device;
  const Clock& clock;
  units::Ticks now;
};

// For the wire, toward zero.
[[nodiscard]] std::int32_t millibar(units::Pressure p);
[[nodiscard]] std::int32_t micrometres(units::Length l);

// The content of a record; the log puts its seal behind it.
using RecordBytes = std::array<std::uint8_t, record::content_max>;

// Bytes written; 0 if it could not be encoded, which a test shows never to happen.
[[nodiscard]] std::size_t encode_event(const Stamp& stamp, const EventNote& note, RecordBytes& into);
// The points of the pull's curve from `next` on, as many as fit; `next` moves behind them.
[[nodiscard]] std::size_t encode_curve(const Stamp& stamp, unsigned& next, RecordBytes& into);
[[nodiscard]] std::size_t encode_pull(const Stamp& stamp, RecordBytes& into);
[[nodiscard]] std::size_t encode_snapshot(const strandproof_wire_Snapshot& snapshot, RecordBytes& into);
[[nodiscard]] std::size_t encode_checkpoint(const strandproof_wire_Checkpoint& checkpoint, RecordBytes& into);

}  // namespace strandproof::app
