#include "firmware/control/channel.hpp"

namespace strandproof::control {

void Channel::sample(std::uint16_t counts) {
  const bool first = !signal_.seen();
  const float last = static_cast<float>(signal_.counts());
  signal_.sample(counts);
  const std::uint16_t c = signal_.counts();
  if (!first && history_.pushed() % noise_period == 0) {
    const float d = static_cast<float>(c) - last;
    square_ += (d * d - square_) * (1.0F / 128.0F);
  }
  const std::uint32_t before512 = history_.push(c);
  if (holdoff_ > 0) {
    --holdoff_;
  } else {
    steady_.update(c, history_.total(0), before512);
  }
}

void Channel::flow_changed() {
  steady_.restart();
  holdoff_ = settling_ticks;
}

}  // namespace strandproof::control
