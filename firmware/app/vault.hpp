// Everything that outlives the power: the log and the cells, laid out over one flash.
//   cells: from 0; log: the rest.
#pragma once

#include <cstdint>
#include <type_traits>

#include "firmware/app/bed_marks.hpp"
#include "firmware/link/handler.hpp"
#include "firmware/port/flash.hpp"
#include "firmware/record/cells.hpp"
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
  explicit Vault(port::Flash& flash)
      : cells_{flash, 0},
        log_{flash,
             {.base = record::Cells::region_size(flash),
              .size = flash.size() - record::Cells::region_size(flash),
              .reserve_pages = 2}} {}

  void mount() {
    cells_good_ = cells_.mount();
    log_error_ = log_.mount();
  }
  // A pull with a trip and a lowering writes at most this many records, each of any length.
  static constexpr std::uint32_t records_of_a_pull = 24;
  [[nodiscard]] bool room_for_a_pull() const { return log_.free_records() >= records_of_a_pull; }
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
  record::Cells cells_;
  record::Store log_;
  bool cells_good_ = false;
  record::Error log_error_ = record::Error::not_mounted;
};

}  // namespace strandproof::app
