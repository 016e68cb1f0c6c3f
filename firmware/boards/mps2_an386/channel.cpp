#include "firmware/boards/mps2_an386/channel.hpp"

#include <cstring>

#include "firmware/boards/mps2_an386/fatal.hpp"
#include "firmware/boards/mps2_an386/semihosting.hpp"

namespace strandproof::board {

void Channel::open() {
  using semihosting::Mode;
  from_plant_ = semihosting::open("to-board", 8, Mode::read_bytes);
  to_plant_ = semihosting::open("from-board", 10, Mode::write_bytes);
  if (from_plant_ < 0 || to_plant_ < 0) {
    fatal(
        "strandproof board: no FIFOs to-board and from-board in the emulator's folder; "
        "start this image through sim::TargetBrain",
        exit_channel);
  }
}

std::span<const std::uint8_t> Channel::peek(std::size_t n) {
  if (n > received_.size() - out_) {
    std::memmove(received_.data(), received_.data() + out_, in_ - out_);
    in_ -= out_;
    out_ = 0;
  }
  while (in_ - out_ < n) {
    const std::size_t got = semihosting::read(from_plant_, std::span{received_}.subspan(in_));
    if (got == 0) {
      return {};
    }
    in_ += got;
  }
  return {received_.data() + out_, n};
}

void Channel::put(std::span<const std::uint8_t> bytes) {
  if (bytes.size() > answer_.size() - answered_) {
    flush();
  }
  std::memcpy(answer_.data() + answered_, bytes.data(), bytes.size());
  answered_ += bytes.size();
}

void Channel::flush() {
  if (!semihosting::write(to_plant_, std::span{answer_}.first(answered_))) {
    fatal("strandproof board: the plant's side has closed the channel", exit_channel);
  }
  answered_ = 0;
}

}  // namespace strandproof::board
