#include "firmware/control/channel.hpp"

namespace strandproof::control {

void Channel::sample(std::uint16_t counts) {
  const bool first = !signal_.seen();
  const float last = static_cast<float>(signal_.counts());
  signal_.sample(counts);
  const std::uint16_t c = signal_.counts();
  if (!first) {
    const float d = static_cast<float>(c) - last;
    square_ += (d * d - square_) * (1.0F / 256.0F);
  }
  before_[history_.pushed() % before_.size()] = fit64_.filled() > 0 ? mean64_ : static_cast<float>(c);
  const std::uint32_t before512 = history_.push(c);
  fit64_.update(c, history_.total(0), history_.total(64));
  mean64_ = fit64_.mean();
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
