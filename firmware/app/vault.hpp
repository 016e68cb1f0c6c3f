// Everything that outlives the power: the log and the cells, laid out over one flash.
//   cells: from 0; the pages of the epoch's key; log: the rest.
#pragma once

#include <cstdint>
#include <type_traits>

#include "firmware/app/bed_marks.hpp"
#include "firmware/control/names.hpp"
#include "firmware/link/handler.hpp"
#include "firmware/port/device.hpp"
#include "firmware/port/flash.hpp"
#include "firmware/record/cells.hpp"
#include "firmware/record/chained_log.hpp"
#include "firmware/record/store.hpp"

namespace strandproof::app {

// What has to be known at the next power-on before anything else. Bytes of a cell.
struct LoadCell {
  std::uint8_t load = 0;  // control::LoadState
  std::uint8_t seat_begun = 0;
  std::uint8_t bed_loaded = 0;
  std::uint8_t unused = 0;
  friend bool operator==(const LoadCell&, const LoadCell&) = default;
};
static_assert(sizeof(LoadCell) == 4);

class Vault {
 public:
  Vault(port::Flash& flash, const port::Device& device)
      : cells_{flash, 0},
        key_pages_{flash, record::Cells::region_size(flash)},
        log_{flash,
             {.base = log_base(flash),
              .size = flash.size() - log_base(flash),
              .reserve_pages = 2,
              .spare_pages = spare_pages}},
        chain_{log_, key_pages_, device.jack_serial, device.secret} {}

  void mount() {
    cells_good_ = cells_.mount();
    log_error_ = log_.mount();
    chain_.mount();
  }
  // A pull with a trip and a lowering writes at most this many records, each of any length: 26, two
  // checkpoints among them, 6 parts of its curve, and a snapshot's head and 38 parts (800 rows of 13 bytes).
  static constexpr std::uint32_t records_of_a_pull = 71;
  [[nodiscard]] bool room_for_a_pull() const { return log_.free_records() >= records_of_a_pull; }
  // At the least, without a further release: each with as many and as long records as a pull may write. Looks
  // at every page once: only while nothing moves.
  [[nodiscard]] std::uint32_t pulls_left() const {
    return log_.worn_out() ? 0 : log_.room_records() / records_of_a_pull;
  }
  // Pages of the log that may fail before the jack starts no more pulls (H31), and how often its flash may be
  // erased by its data sheet: 100,000 is usual for NOR of this kind.
  static constexpr std::uint32_t spare_pages = 16;
  static constexpr std::uint64_t rated_erases = 100'000;
  // 80 % of either is used up.
  [[nodiscard]] bool log_wearing() const {
    return 5 * log_.retired_pages() >= 4 * spare_pages || 5 * log_.erase_cycles() >= 4 * rated_erases;
  }
  // What bars arming.
  [[nodiscard]] control::Refusal gate() const {
    return log_error_ != record::Error::none ? control::Refusal::store_fault
           : log_.worn_out()                 ? control::Refusal::store_worn
           : !room_for_a_pull()              ? control::Refusal::store_full
                                             : control::Refusal::none;
  }
  // Makes that room where pages can be erased: on a virgin flash none is ready yet. Only while nothing moves.
  void make_room() {
    while (!room_for_a_pull() && log_.service()) {  // each turn erases one page: bounded by their number
    }
  }
  [[nodiscard]] bool cells_good() const { return cells_good_; }
  [[nodiscard]] record::Error log_error() const { return log_error_; }
  [[nodiscard]] record::Cells& cells() { return cells_; }
  [[nodiscard]] const record::Cells& cells() const { return cells_; }
  [[nodiscard]] record::Store& log() { return log_; }
  [[nodiscard]] const record::Store& log() const { return log_; }
  [[nodiscard]] record::ChainedLog& chain() { return chain_; }

  // Values of fixed size. False: never written, or not readable.
  template <class T>
  [[nodiscard]] bool load(record::CellId id, T& into) const {
    static_assert(std::is_trivially_copyable_v<T>);
    return cells_.read(id, {reinterpret_cast<std::uint8_t*>(&into), sizeof into}) == sizeof into;
  }
  template <class T>
  [[nodiscard]] bool save(record::CellId id, const T& value) {
    static_assert(std::is_trivially_copyable_v<T>);
    return cells_.write(id, {reinterpret_cast<const std::uint8_t*>(&value), sizeof value});
  }

 private:
  [[nodiscard]] static std::uint32_t log_base(const port::Flash& flash) {
    return record::Cells::region_size(flash) + record::KeyPages::region_size(flash);
  }

  record::Cells cells_;
  record::KeyPages key_pages_;
  record::Store log_;
  record::ChainedLog chain_;
  bool cells_good_ = false;
  record::Error log_error_ = record::Error::not_mounted;
};

}  // namespace strandproof::app
