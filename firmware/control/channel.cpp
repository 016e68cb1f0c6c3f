#include "firmware/control/channel.hpp"

#include "firmware/control/root.hpp"

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
  before_[pushed_ % before_.size()] = fit64_.filled() > 0 ? fit64_.mean() : static_cast<float>(c);
  ++pushed_;
  fit16_.update(history_, c);
  fit64_.update(history_, c);
  fit200_.update(history_, c);
  if (holdoff_ > 0) {
    --holdoff_;
  } else {
    steady_.update(history_, c);
  }
  history_.push(c);
}

void Channel::flow_changed() {
  steady_.restart();
  holdoff_ = settling_ticks;
}

float Channel::mean_ago(std::uint32_t back, std::uint32_t n) const {
  std::uint32_t sum = 0;
  for (std::uint32_t i = 0; i < n; ++i) {
    sum += history_.ago(back + i);
  }
  return static_cast<float>(sum) / static_cast<float>(n);
}

Line Channel::line() const {
  const LineFit& f = steady_.filled() >= steady_min ? steady_ : fit64_;
  return {.counts = f.newest(), .counts_per_tick = f.slope(), .samples = f.filled()};
}

float Channel::noise() const {
  return root(0.5F * square_);
}

}  // namespace strandproof::control
