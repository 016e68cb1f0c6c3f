// The figures of firmware/README.md that the toy jack can show: how soon H01 and H02 act, and how well one
// pull knows its draw-in.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "tests/control/toy_rig.hpp"

namespace strandproof::control {
namespace {

// H01, raw: a channel that jumps by 7 MPa, past the limit and 0.8 % of span, acts with its second sample.
TEST(Figures, H01_TheSecondRawSampleOverTheLimitActs) {
  for (const State at : {State::slow_pull, State::settle}) {
    Rig r;
    r.arm();
    ASSERT_TRUE(r.until(at));
    r.toy.bias_b = 0.1;
    r.run(2);
    EXPECT_EQ(r.c->core().cause, Cause::h01_over_force);
    EXPECT_FALSE(r.out.motor || r.out.advance_valve);
  }
}

// H02: the ram is stopped while the pump goes on. The row acts when the rise over 24 ms passes 0.45 MPa and
// what the travel explains (0.03 MPa here); noise of 0.1 % of span makes the difference of two means of four
// uncertain by 0.05 MPa: three of these, half the length of a mean, the tick of the command, and all of it in
// whole ticks.
TEST(Figures, H02_ActsAsSoonAsTheRiseCanBeToldFromNoise) {
  for (const double rate : {25e6, 50e6, 100e6, 300e6}) {
    int slowest = 0;
    for (std::uint32_t seed = 1; seed <= 10; ++seed) {
      ToyJack t;
      t.random = seed;
      Rig r{t};
      r.arm();
      ASSERT_TRUE(r.until(State::main_pull));
      while (r.toy.force() < 78e3) {
        r.tick();
      }
      r.toy.trapped = rate;
      int ms = 0;
      for (; r.c->core().state != State::stopped && ms < 1000; ++ms) {
        r.tick();
      }
      ASSERT_EQ(r.c->core().cause, Cause::h02_dead_headed);
      slowest = std::max(slowest, ms);
    }
    std::printf("%3.0f MPa/s from the ram's stop: commanded off within %d ms\n", rate / 1e6, slowest);
    EXPECT_LE(slowest, std::ceil(1e3 * (0.45e6 + 0.03e6 + 3 * 0.05e6) / rate + 2.5));
  }
}

// What one pull can tell of its draw-in: the spread over many, with stroke noise of 0.1 % of 600 mm a sample.
TEST(Figures, DrawInIsKnownToAThirdOfAMillimetre) {
  double sum = 0.0;
  double squares = 0.0;
  constexpr int pulls = 100;
  for (std::uint32_t seed = 1; seed <= pulls; ++seed) {
    ToyJack t;
    t.random = seed;
    Rig r{t};
    r.arm();
    ASSERT_TRUE(r.until(State::settle));
    r.run(2100);
    r.tap(&Switches::confirm);
    ASSERT_TRUE(r.until(State::ended));
    const double off_mm = 1e3 * static_cast<double>(r.c->pull().report().draw_in.si()) - 3.0;
    sum += off_mm;
    squares += off_mm * off_mm;
  }
  const double mean = sum / pulls;
  const double deviation = std::sqrt(squares / pulls - mean * mean);
  std::printf("draw-in of 3 mm, %d pulls: mean error %.3f mm, deviation %.3f mm\n", pulls, mean, deviation);
  // The 0.26 mm and 0.08 mm of above; of 100 pulls a deviation is known to 7 % and a mean to a tenth of it.
  EXPECT_LT(deviation, 0.26 * 1.21);
  EXPECT_LT(std::abs(mean), 0.08 + 3 * 0.026);
}

}  // namespace
}  // namespace strandproof::control
