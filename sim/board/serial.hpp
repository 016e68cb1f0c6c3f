// The simulated jack's end of its serial line: two queues. The send buffer is as small as a real
// board's, so that a controller that writes without asking for room is found out.
#pragma once

#include <algorithm>
#include <cstdint>
#include <deque>
#include <span>
#include <utility>
#include <vector>

#include "firmware/port/serial.hpp"

namespace strandproof::sim {

class SimSerial final : public port::Serial {
 public:
  static constexpr std::size_t send_buffer = 2048;

  [[nodiscard]] std::size_t read(std::span<std::uint8_t> into) override {
    return to_jack_.empty() ? 0 : take_in(into);  // nearly every tick nothing
  }
  [[nodiscard]] std::size_t writable() const override { return send_buffer - from_jack_.size(); }
  [[nodiscard]] std::size_t waiting() const override { return from_jack_.size(); }
  [[nodiscard]] bool write(std::span<const std::uint8_t> bytes) override {
    if (bytes.size() > writable()) {
      return false;
    }
    from_jack_.insert(from_jack_.end(), bytes.begin(), bytes.end());
    return true;
  }

  // The far end of the line.
  void push(std::span<const std::uint8_t> bytes) {
    to_jack_.insert(to_jack_.end(), bytes.begin(), bytes.end());
  }
  std::vector<std::uint8_t> take() { return std::exchange(from_jack_, {}); }
  // What a line of so many bytes this millisecond carries away.
  std::vector<std::uint8_t> take(std::size_t most) {
    const auto end = from_jack_.begin() + static_cast<std::ptrdiff_t>(std::min(most, from_jack_.size()));
    std::vector<std::uint8_t> gone(from_jack_.begin(), end);
    from_jack_.erase(from_jack_.begin(), end);
    return gone;
  }

 private:
  // Kept out of read(): inlined it has every empty tick save its registers.
  [[gnu::noinline]] std::size_t take_in(std::span<std::uint8_t> into) {
    const std::size_t n = std::min(into.size(), to_jack_.size());
    std::copy_n(to_jack_.begin(), n, into.begin());
    to_jack_.erase(to_jack_.begin(), to_jack_.begin() + static_cast<std::ptrdiff_t>(n));
    return n;
  }

  std::deque<std::uint8_t> to_jack_;
  std::vector<std::uint8_t> from_jack_;
};

}  // namespace strandproof::sim
