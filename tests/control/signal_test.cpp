// NAMUR NE 43: measuring 3.8 to 20.5 mA; failure at 3.6 mA and less, 21.0 mA and more; between them not
// valid.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <utility>
#include <vector>

#include "firmware/control/channel.hpp"
#include "firmware/control/loop_signal.hpp"
#include "firmware/control/window.hpp"
#include "firmware/port/sample.hpp"

namespace strandproof::control {
namespace {

double milliampere(std::uint16_t counts) {
  return 24.0 * counts / 65535.0;
}

TEST(LoopSignal, LimitsLieOnNe43ToTheCount) {
  EXPECT_LE(milliampere(LoopSignal::failure_low), 3.6);
  EXPECT_GT(milliampere(LoopSignal::failure_low + 1), 3.6);
  EXPECT_GE(milliampere(LoopSignal::measuring_low), 3.8);
  EXPECT_LT(milliampere(LoopSignal::measuring_low - 1), 3.8);
  EXPECT_LE(milliampere(LoopSignal::measuring_high), 20.5);
  EXPECT_GT(milliampere(LoopSignal::measuring_high + 1), 20.5);
  EXPECT_GE(milliampere(LoopSignal::failure_high), 21.0);
  EXPECT_LT(milliampere(LoopSignal::failure_high - 1), 21.0);
}

LoopSignal healthy() {
  LoopSignal s;
  for (int i = 0; i < 4; ++i) {
    s.sample(30000);
  }
  return s;
}

TEST(LoopSignal, ThreeBadOfFourFailAndNoFewer) {
  for (unsigned pattern = 0; pattern < 16; ++pattern) {
    LoopSignal s = healthy();
    unsigned bad = 0;
    for (unsigned i = 0; i < 4; ++i) {
      const bool is_bad = ((pattern >> i) & 1U) != 0;
      bad += is_bad ? 1 : 0;
      s.sample(is_bad ? std::uint16_t{0} : std::uint16_t{30000});
    }
    EXPECT_EQ(s.failed(), bad >= 3) << pattern;
  }
}

TEST(LoopSignal, FailsWithinFiveTicksAndBridgesWithItsAge) {  // H04: 5 ms
  for (const std::uint16_t bad :
       {std::uint16_t{0}, LoopSignal::failure_low, LoopSignal::failure_high, std::uint16_t{65535}}) {
    LoopSignal s = healthy();
    s.sample(bad);
    EXPECT_FALSE(s.failed());
    EXPECT_EQ(s.counts(), 30000);
    EXPECT_EQ(s.age(), 1);
    s.sample(bad);
    s.sample(bad);
    EXPECT_TRUE(s.failed()) << bad;
  }
}

TEST(LoopSignal, TheLastMeasuringLevelIsGoodAndTheNextIsNot) {
  for (const auto& [counts, good] : {std::pair{LoopSignal::measuring_low, true},
                                     {static_cast<std::uint16_t>(LoopSignal::measuring_low - 1), false},
                                     {LoopSignal::measuring_high, true},
                                     {static_cast<std::uint16_t>(LoopSignal::measuring_high + 1), false}}) {
    LoopSignal s;
    for (int i = 0; i < 4; ++i) {
      s.sample(counts);
    }
    EXPECT_EQ(s.failed(), !good) << counts;
  }
}

TEST(LoopSignal, NothingIsGoodBeforeItWasSeen) {
  EXPECT_TRUE(LoopSignal{}.failed());
}

// The sliding fit against the textbook sums over the same samples, in double, fresh each time.
TEST(LineFit, AgreesWithTheTextbookSumsForEver) {
  constexpr unsigned n = 64;
  History h;
  LineFit<n> fit;
  std::uint32_t random = 12345;
  std::vector<double> y;
  for (unsigned i = 0; i < 5000; ++i) {
    random = random * 1664525U + 1013904223U;
    const auto counts = static_cast<std::uint16_t>(20000 + i * 3 + random % 200);
    (void)h.push(counts);
    fit.update(counts, h.total(0), h.total(n));
    y.push_back(counts);
    const unsigned m = std::min<unsigned>(i + 1, n);
    double sx = 0, sy = 0, sxx = 0, sxy = 0;
    for (unsigned j = 0; j < m; ++j) {
      const double v = y[y.size() - m + j];
      sx += j, sy += v, sxx += double(j) * j, sxy += j * v;
    }
    ASSERT_NEAR(fit.mean(), sy / m, 2e-3);
    if (m > 2) {
      const double slope = (m * sxy - sx * sy) / (m * sxx - sx * sx);
      ASSERT_NEAR(fit.line().counts_per_tick, slope, 1e-5 * (1 + std::abs(slope)));
    }
  }
}

TEST(Channel, SteadyLineNeverReachesAcrossAChangeOfFlow) {
  Channel c;
  for (int i = 0; i < 600; ++i) {
    c.sample(20000);
  }
  c.flow_changed();
  for (unsigned i = 0; i < 300; ++i) {
    c.sample(static_cast<std::uint16_t>(20000 + 10 * i));
  }
  EXPECT_NEAR(c.line().counts_per_tick, 10.0, 1e-4);
  EXPECT_EQ(c.line().samples, 300U - Channel::settling_ticks);
}

TEST(Channel, NoiseIsTheDeviationOfOneSample) {
  Channel c;
  for (unsigned i = 0; i < 4000; ++i) {
    c.sample(
        static_cast<std::uint16_t>(i % 2 == 0 ? 20010 : 19990));  // successive differences of 20: 20/sqrt 2
  }
  EXPECT_NEAR(c.noise(), 20.0 / 1.41421356, 0.05);
}

}  // namespace
}  // namespace strandproof::control
