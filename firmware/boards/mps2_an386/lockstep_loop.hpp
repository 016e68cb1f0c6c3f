// The board's main loop: time comes as samples over the plant's channel, one tick a sample. The requests
// are those of proto/lockstep.hpp; several may arrive in one read, and their answers leave in one write.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/boards/mps2_an386/channel.hpp"
#include "firmware/boards/mps2_an386/fatal.hpp"
#include "firmware/boards/mps2_an386/serial.hpp"
#include "firmware/boards/mps2_an386/tick_timer.hpp"
#include "firmware/port/sample.hpp"
#include "proto/lockstep.hpp"

namespace strandproof::board {

namespace frame = proto::lockstep;

// Controller: anything with tick(const port::RawSample&) that returns outputs, state, cause, load_state.
template <class Controller>
class LockStepLoop {
 public:
  LockStepLoop(Channel& channel, BoardSerial& serial, Controller& controller)
      : channel_{channel}, serial_{serial}, controller_{controller} {}

  // Until the plant says quit or goes away.
  void run() {
    timer_.start();
    for (bool more = true; more;) {
      more = serve_one();
      if (!more || channel_.idle()) {
        channel_.flush();
      }
    }
  }

  [[nodiscard]] const TickTimer& timer() const { return timer_; }

 private:
  // Every output that moves oil or lets it move: all but horn and lamp.
  static constexpr port::OutputBits motion =
      static_cast<port::OutputBits>(~(port::bit(port::Output::horn) | port::bit(port::Output::lamp)));
  static constexpr std::size_t link_head_size = 3;  // kind and length

  bool serve_one() {
    const auto kind = channel_.peek(1);
    if (kind.empty()) {
      return false;
    }
    switch (kind[0]) {
      case frame::kind_sample:
        return serve_sample();
      case frame::kind_link:
        return serve_link();
      case frame::kind_quit:
        return false;
      default:
        fatal("strandproof board: an unknown request over the plant's channel", exit_channel);
    }
  }

  bool serve_sample() {
    const auto bytes = channel_.peek(1 + frame::sample_size);
    if (bytes.empty()) {
      return false;
    }
    frame::Sample s;
    if (!frame::decode(bytes.last<frame::sample_size>(), s)) {
      fatal("strandproof board: a damaged sample over the plant's channel", exit_channel);
    }
    channel_.drop(bytes.size());
    timer_.begin();
    const auto a = controller_.tick(
        port::RawSample{s.tick, s.analog[0], s.analog[1], s.analog[2], s.analog[3], s.analog[4], s.digital});
    timer_.end((a.outputs & motion) != 0);
    std::array<std::uint8_t, frame::answer_size> answer;
    frame::encode({static_cast<std::uint16_t>(s.tick), static_cast<std::uint8_t>(a.outputs),
                   static_cast<std::uint8_t>(a.state), static_cast<std::uint8_t>(a.cause),
                   static_cast<std::uint8_t>(a.load_state)},
                  answer);
    channel_.put(answer);
    return true;
  }

  bool serve_link() {
    const auto head = channel_.peek(link_head_size);
    const std::size_t length = head.empty() ? 0 : proto::get_u16(&head[1]);
    if (length > frame::link_bytes_max) {
      fatal("strandproof board: a link request that is too long over the plant's channel", exit_channel);
    }
    const auto whole = channel_.peek(link_head_size + length);
    if (whole.empty()) {
      return false;
    }
    serial_.push(whole.subspan(link_head_size));
    channel_.drop(whole.size());
    answer_link();
    return true;
  }

  void answer_link() {
    const std::size_t n = serial_.take(std::span{answer_}.subspan(link_head_size));
    answer_[0] = frame::kind_sent;
    proto::put_u16(static_cast<std::uint16_t>(n), &answer_[1]);
    channel_.put(std::span{answer_}.first(link_head_size + n));
  }

  Channel& channel_;
  BoardSerial& serial_;
  Controller& controller_;
  TickTimer timer_;
  std::array<std::uint8_t, link_head_size + frame::link_bytes_max> answer_{};
};

}  // namespace strandproof::board
