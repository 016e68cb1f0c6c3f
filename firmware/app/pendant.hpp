// Questions at the pendant beside the pull: the keys that answer them never reach the sequence, not even as
// the rest of a long press, and a question moves no output.
#pragma once

#include <cstdint>

#include "firmware/control/inputs.hpp"
#include "firmware/units/units.hpp"

namespace strandproof::app {

// Select, confirm and reset, pressed in this tick.
struct Press {
  bool select = false, confirm = false, reset = false;
  [[nodiscard]] bool any() const { return select || confirm || reset; }
};

class PendantKeys {
 public:
  // The presses of this tick. While `asked`, the three keys are taken out of the switches; a key pressed
  // meanwhile stays out until it was let go.
  Press take(control::Switches& is, bool asked) {
    if (!is.select && !is.confirm && !is.reset) {  // nearly every tick; a key that is up is hidden no longer
      if (any_down_) {
        select_ = confirm_ = reset_ = Key{};
        any_down_ = false;
      }
      return {};
    }
    any_down_ = true;
    return {.select = key(is.select, asked, select_),
            .confirm = key(is.confirm, asked, confirm_),
            .reset = key(is.reset, asked, reset_)};
  }

 private:
  struct Key {
    bool down = false, hidden = false;
  };
  static bool key(bool& level, bool asked, Key& k) {
    const bool pressed = level && !k.down;
    k.down = level;
    k.hidden = level && (asked || k.hidden);
    level = level && !k.hidden;
    return pressed;
  }

  Key select_, confirm_, reset_;
  bool any_down_ = false;  // in the last tick
};

// A list to choose from: select moves on, confirm takes what is shown, reset ends it. Nothing is chosen at
// first, so that a doubled confirm does nothing.
class Chooser {
 public:
  enum class List : std::uint8_t { none, revoke_key, part_changed, copies };
  static constexpr units::Ticks lasts = 60 * units::ticks_per_second;

  void open(List list, units::Ticks now) {
    list_ = list;
    cursor_ = 0;
    until_ = now + lasts;
  }
  void close() { list_ = List::none; }
  void lapse(units::Ticks now) {
    if (now >= until_) {
      close();
    }
  }
  [[nodiscard]] List list() const { return list_; }
  [[nodiscard]] bool is_open() const { return list_ != List::none; }
  [[nodiscard]] unsigned cursor() const { return cursor_; }  // from 1; 0: nothing yet
  void next(unsigned count) { cursor_ = count == 0 ? 0U : cursor_ % count + 1U; }

 private:
  List list_ = List::none;
  unsigned cursor_ = 0;
  units::Ticks until_ = 0;
};

}  // namespace strandproof::app
