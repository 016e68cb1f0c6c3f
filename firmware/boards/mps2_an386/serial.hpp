// The link's byte stream on this board: two rings that the lock-step loop fills and drains. The send
// side is as small as the simulated jack's, so that the firmware meets the same limit on both.
#pragma once

#include <array>

#include "firmware/port/serial.hpp"

namespace strandproof::board {

// N: a power of two.
template <std::size_t N>
class Ring {
  static_assert((N & (N - 1)) == 0);

 public:
  [[nodiscard]] std::size_t used() const { return in_ - out_; }
  [[nodiscard]] std::size_t room() const { return N - used(); }
  // The caller has asked for room.
  void put(std::uint8_t byte) { bytes_[in_++ % N] = byte; }
  std::uint8_t get() { return bytes_[out_++ % N]; }

 private:
  std::array<std::uint8_t, N> bytes_{};
  std::size_t in_ = 0, out_ = 0;  // free-running: they wrap together
};

// Apart from BoardSerial, whose virtual table pointer would put the rings' zeros into the image's .data.
struct SerialRings {
  Ring<8192> received;
  Ring<2048> to_send;
};

class BoardSerial final : public port::Serial {
 public:
  explicit BoardSerial(SerialRings& rings) : received_{rings.received}, to_send_{rings.to_send} {}

  [[nodiscard]] std::size_t read(std::span<std::uint8_t> into) override {
    std::size_t n = 0;
    for (; n < into.size() && received_.used() != 0; ++n) {
      into[n] = received_.get();
    }
    return n;
  }
  [[nodiscard]] std::size_t writable() const override { return to_send_.room(); }
  [[nodiscard]] std::size_t waiting() const override { return to_send_.used(); }
  [[nodiscard]] bool write(std::span<const std::uint8_t> bytes) override {
    if (bytes.size() > to_send_.room()) {
      return false;
    }
    for (const std::uint8_t b : bytes) {
      to_send_.put(b);
    }
    return true;
  }

  // The far end. Bytes past the ring's end are lost, as in a receiver that is not read in time: the
  // frame's CRC finds it.
  void push(std::span<const std::uint8_t> bytes) {
    for (const std::uint8_t b : bytes) {
      if (received_.room() != 0) {
        received_.put(b);
      }
    }
  }
  [[nodiscard]] std::size_t take(std::span<std::uint8_t> into) {
    std::size_t n = 0;
    for (; n < into.size() && to_send_.used() != 0; ++n) {
      into[n] = to_send_.get();
    }
    return n;
  }

 private:
  Ring<8192>& received_;
  Ring<2048>& to_send_;
};

}  // namespace strandproof::board
