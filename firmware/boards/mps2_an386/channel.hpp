// The plant's channel: two FIFOs in the emulator's folder behind semihosting calls, with a buffer on
// each side. Bytes that belong together leave in one write; nothing waits but fill().
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

namespace strandproof::board {

class Channel {
 public:
  void open();  // ends the board with a clear text if the FIFOs are not there

  // Makes at least n bytes ready and returns exactly the first n, or an empty span once the other side
  // has gone. n: at most one sample or one piece of the link. Valid until the next call.
  [[nodiscard]] std::span<const std::uint8_t> peek(std::size_t n);
  void drop(std::size_t n) { out_ += n; }
  [[nodiscard]] bool idle() const { return in_ == out_; }  // everything received is used up

  void put(std::span<const std::uint8_t> bytes);
  void flush();

 private:
  std::int32_t from_plant_ = 0, to_plant_ = 0;  // handles, set by open()
  std::array<std::uint8_t, 4096> received_{};
  std::size_t in_ = 0, out_ = 0;
  std::array<std::uint8_t, 4096> answer_{};
  std::size_t answered_ = 0;
};

}  // namespace strandproof::board
