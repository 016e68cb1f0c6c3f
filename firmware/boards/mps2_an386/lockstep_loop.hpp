// The board's main loop: time comes as samples over the plant's channel, one tick a sample. The requests
// are those of proto/lockstep.hpp; several may arrive in one read, and their answers leave in one write.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/boards/mps2_an386/channel.hpp"
#include "firmware/boards/mps2_an386/fatal.hpp"
#include "firmware/boards/mps2_an386/serial.hpp"
#include "firmware/port/sample.hpp"
#include "proto/lockstep.hpp"

namespace strandproof::board {

inline constexpr std::size_t link_piece_bytes = 2048;  // most link bytes in one request or answer

// Controller: anything with tick(const port::RawSample&) that returns outputs, state, cause, load_state.
template <class Controller>
class LockStepLoop {
 public:
  LockStepLoop(Channel& channel, BoardSerial& serial, Controller& controller)
      : channel_{channel}, serial_{serial}, controller_{controller} {}

  // Until the plant says quit or goes away.
  void run() {
    for (bool more = true; more;) {
      more = serve_one();
      if (!more || channel_.idle()) {
        channel_.flush();
      }
    }
  }

 private:
  bool serve_one() {
    const auto kind = channel_.peek(1);
    if (kind.empty()) {
      return false;
    }
    switch (kind[0]) {
      case 'S': return serve_sample();
      case 'L': return serve_link();
      case 'Q': return false;
      default: fatal("strandproof board: an unknown request over the plant's channel", exit_channel);
    }
  }

  bool serve_sample() {
    namespace frame = proto::lockstep;
    const auto bytes = channel_.peek(frame::sample_bytes);
    frame::Sample s;
    if (bytes.empty() || !frame::decode_sample(bytes.first<frame::sample_bytes>(), s)) {
      fatal("strandproof board: a damaged sample over the plant's channel", exit_channel);
    }
    channel_.drop(frame::sample_bytes);
    const auto a = controller_.tick(port::RawSample{s.tick, s.pressure_a, s.pressure_b, s.stroke, s.load_cell,
                                                    s.oil_temperature, s.digital});
    channel_.put(frame::encode_answer({static_cast<std::uint16_t>(s.tick), static_cast<std::uint8_t>(a.outputs),
                                       static_cast<std::uint8_t>(a.state), static_cast<std::uint8_t>(a.cause),
                                       static_cast<std::uint8_t>(a.load_state)}));
    return true;
  }

  bool serve_link() {
    const auto head = channel_.peek(proto::lockstep::link_head_bytes);
    const std::size_t length = head.empty() ? 0 : head[1] + 256U * head[2];
    if (head.empty() || length > link_piece_bytes) {
      fatal("strandproof board: a link request with a wrong length over the plant's channel", exit_channel);
    }
    const auto whole = channel_.peek(proto::lockstep::link_head_bytes + length);
    if (whole.empty()) {
      return false;
    }
    serial_.push(whole.subspan(proto::lockstep::link_head_bytes));
    channel_.drop(whole.size());
    answer_link();
    return true;
  }

  void answer_link() {
    std::array<std::uint8_t, proto::lockstep::link_head_bytes + link_piece_bytes> answer;
    const std::size_t n = serial_.take(std::span{answer}.subspan(proto::lockstep::link_head_bytes));
    answer[0] = 'l';
    answer[1] = static_cast<std::uint8_t>(n);
    answer[2] = static_cast<std::uint8_t>(n >> 8U);
    channel_.put(std::span{answer}.first(proto::lockstep::link_head_bytes + n));
  }

  Channel& channel_;
  BoardSerial& serial_;
  Controller& controller_;
};

}  // namespace strandproof::board
