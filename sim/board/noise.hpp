// Noise as a function, not a sequence: the same (seed, tick, stream) gives the same number whatever
// was drawn before, on every compiler. Philox 4x32-10 of Random123 under a normal table of our own;
// no libm anywhere, so that the bits agree between machines.
#pragma once

#include <array>
#include <cstdint>

namespace strandproof::sim {

// Standard normal quantile for the 32-bit fraction (u + 0.5) / 2^32. Piecewise linear between 64
// exact points in each octave of the tail probability; within 4e-5 of the true quantile.
float normal_quantile(std::uint32_t u);

class Noise {
 public:
  explicit Noise(std::uint64_t seed) : seed_{seed} {}
  // Up to four independent standard normal draws of one tick; block numbers a group of four streams. Streams
  // that nobody listens to are left at zero.
  [[nodiscard]] std::array<float, 4> normal(std::uint32_t tick, std::uint32_t block,
                                            unsigned streams = 4) const;
  // Four uniform draws in (0, 1), for parameters that are scattered once a run.
  [[nodiscard]] std::array<double, 4> uniform(std::uint32_t index, std::uint32_t block) const;

 private:
  std::uint64_t seed_;
};

// The same draws of block 0, for who takes one tick after the other: sixteen ticks are drawn at a time, in
// loops that work on several at once. Any tick may be asked for.
class NoiseAhead {
 public:
  static constexpr std::uint32_t at_once = 16;  // a power of two: a group begins at its multiple

  explicit NoiseAhead(std::uint64_t seed) : seed_{seed} { draw(0); }
  // Brings the group that has this tick; normal() then is of this tick.
  void turn_to(std::uint32_t tick) {
    if ((tick ^ first_) >= at_once) {
      draw(tick);
    }
    place_ = tick % at_once;
  }
  [[nodiscard]] const std::array<double, 4>& normals() const { return normals_[place_]; }

 private:
  // Kept out of the caller: its vectors would have every tick set up their room.
  [[gnu::noinline]] void draw(std::uint32_t tick);

  std::uint64_t seed_;
  std::uint32_t first_ = 0, place_ = 0;
  std::array<std::array<double, 4>, at_once> normals_{};
};

}  // namespace strandproof::sim
