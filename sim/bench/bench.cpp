#include "sim/bench/bench.hpp"

namespace strandproof::sim {
namespace {

constexpr std::uint32_t line_noise = 2;  // block of the noise that the channels do not draw from

}  // namespace

bool Bench::run(double time_limit_s) {
  const double until_s = board_.time_s() + time_limit_s;
  while (!operator_.idle()) {
    if (board_.time_s() >= until_s) {
      return false;
    }
    step();
  }
  return true;
}

bool Bench::upset() {
  using fault::Effect;
  using fault::Place;
  const fault::Watch& faults = board_.faults();
  if (const fault::Fault* flood = faults.active(Place::link, Effect::floods)) {
    std::vector<std::uint8_t> bytes;
    const Noise noise(board_.ticks());
    for (std::uint32_t i = 0; bytes.size() < static_cast<std::size_t>(flood->amount()); ++i) {
      bytes.push_back(static_cast<std::uint8_t>(noise.uniform(i, line_noise)[0] * 256.0));
    }
    brain_.link_write(bytes);
  }
  if (faults.on(Place::supply, Effect::dies)) {
    dead_ = true;
    return true;
  }
  if (dead_) {
    dead_ = false;
    brain_.power_cycle();
  }
  if (const fault::Fault* slow = faults.active(Place::controller, Effect::drags)) {
    const auto missed = [&](std::uint64_t ticks) {
      return static_cast<std::uint64_t>(static_cast<double>(ticks) * slow->amount());
    };
    return missed(board_.ticks() + 1) != missed(board_.ticks());
  }
  return faults.on(Place::controller, Effect::misses);
}

}  // namespace strandproof::sim
