// What every trip leaves behind: at once each detector's value and limit, and the samples of 500 ms before it
// and of 300 ms from it on, frozen in memory and then written in numbered parts, a bounded piece a tick.
//
// A trip that comes while the samples of another one are still being taken has its moment among them. One
// that comes while they are being written has no samples. Both have a head of their own, which says so.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/app/records.hpp"
#include "firmware/app/row_bytes.hpp"
#include "firmware/control/detectors.hpp"
#include "firmware/port/sample.hpp"
#include "firmware/record/chained_log.hpp"

namespace strandproof::app {

class Snapshots {
 public:
  static constexpr unsigned rows_before = 500,
                            rows_from = 300;  // ticks; the trip's own is the first of the 300
  static constexpr unsigned rows_max = rows_before + rows_from;

  explicit Snapshots(record::ChainedLog& log) : log_{log} {}

  // Each tick, with what was commanded in it.
  void sample(const port::RawSample& s, port::OutputBits outputs, units::Ticks now);
  // In the tick that trips, after its sample().
  void trip(const control::Controller& c, units::Ticks now);
  // One bounded step of writing, and only into an empty queue: other records go first. True if one was made.
  [[nodiscard]] bool step(const Stamp& stamp, std::uint32_t boot);
  // There is something to write.
  [[nodiscard]] bool waiting() const { return heads_ > 0 || stage_ == Stage::write; }

 private:
  enum class Stage : std::uint8_t { watch, take, write };
  struct Row {
    std::uint16_t pressure_a = 0, pressure_b = 0, stroke = 0, digital = 0;
    port::OutputBits outputs = 0;
  };
  static_assert(sizeof(Row) == 10);
  struct Head {
    units::Ticks trip = 0;
    control::Cause cause = control::Cause::none;
    control::State state = control::State::idle;  // before it
    bool samples = false;                         // there are some of its moment
    std::uint32_t since_ms = 0;                   // the trip that they belong to was so long before this one
    std::uint32_t missed = 0;                     // trips before this one for whose heads there was no place
    control::Looks looks{};
  };
  using Part = RowBytes<4, sizeof(strandproof_wire_Snapshot::rows.bytes)>;

  [[nodiscard]] const Row& row(unsigned i) const;  // the oldest is 0
  [[nodiscard]] static std::size_t encode_head(const Head& head, const port::Device& device,
                                               RecordBytes& into);
  [[nodiscard]] std::size_t encode_part(RecordBytes& into);
  [[nodiscard]] bool fill_part();

  record::ChainedLog& log_;
  std::array<Row, rows_max> ring_{};
  unsigned newest_ = rows_max - 1, held_ = 0;
  units::Ticks newest_at_ = 0;
  Stage stage_ = Stage::watch;
  unsigned wanted_ = 0;  // rows still to come of this trip
  units::Ticks trip_ = 0;
  control::Cause cause_ = control::Cause::none;
  std::array<Head, 2> head_{};  // waiting, the older one first
  unsigned heads_ = 0;
  std::uint32_t missed_ = 0;
  unsigned written_ = 0, part_number_ = 0;
  Part part_;
};

}  // namespace strandproof::app
