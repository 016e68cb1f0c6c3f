// The pendant's four lines: load state; state and cause; force; what to do. Texts of the catalogue only.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

#include "firmware/control/controller.hpp"
#include "firmware/link/handler.hpp"

namespace strandproof::app {

inline constexpr unsigned display_columns = 40;
// From here on the pendant counts the pulls that the log has room for.
inline constexpr std::uint32_t few_pulls_left = 10;

class Line {
 public:
  void clear() { size_ = 0, text_[0] = '\0'; }
  Line& text(std::string_view s);
  Line& number(std::int32_t value);
  // value / 10 with one decimal.
  Line& tenths(std::int32_t value);
  // Eight bytes as 1122 33aa bbcc ddee.
  Line& fingerprint(const link::Fingerprint& f);
  [[nodiscard]] std::string_view view() const { return {text_.data(), size_}; }
  [[nodiscard]] const char* c_str() const { return text_.data(); }

 private:
  std::array<char, display_columns + 1> text_{};
  std::size_t size_ = 0;
};

struct DisplayExtra {
  control::Refusal refusal = control::Refusal::none;  // last refusal, shown until the next key
  std::uint32_t pairing_check = 0;                    // six digits while the pairing window waits; 0: closed
  enum class Ask : std::uint8_t {
    nothing,
    key_window,
    key,
    revoke_key,
    part_changed,
    copies_needed,
    forget_copy
  };
  Ask ask = Ask::nothing;
  std::string_view subject;         // name of the key or copy, or the part; empty: nothing chosen yet
  link::Fingerprint fingerprint{};  // of the key; the id of the copy
  // Shown while the jack is idle and nothing else is to be said.
  std::uint32_t pulls_left = UINT32_MAX;  // before the log is full
  bool log_wearing = false;
  unsigned copies_needed = 2, copies_named = 0;
};

using Display = std::array<Line, 4>;

void compose(Display& d, const control::Controller& c, const DisplayExtra& extra);

}  // namespace strandproof::app
