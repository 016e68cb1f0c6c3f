// The curve of a pull: at most 128 points, its corners among them, and no sample further from the lines than
// within() says. Every sample is held against the line between the points before and after it, at its own
// millisecond.
#include "firmware/control/curve.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include "tests/control/toy_rig.hpp"

namespace strandproof::control {
namespace {

constexpr CurveTolerance finest{360.0F, 130.0F};

struct Drawn {
  Curve curve;
  std::vector<CurvePoint> samples;

  explicit Drawn(const CurveTolerance& t = finest) { curve.start(t); }
  void add(double ms, double um, double n) {
    samples.push_back({static_cast<std::uint32_t>(ms), static_cast<std::int32_t>(std::lround(um)),
                       static_cast<std::int32_t>(std::lround(n))});
    curve.add(samples.back());
  }
  // The furthest sample, in shares of what within() allows; a whole number of um and N more is allowed.
  [[nodiscard]] double worst() const {
    double worst = 0.0;
    unsigned at = 0;
    for (const CurvePoint& s : samples) {
      while (at + 2 < curve.size() && curve[at + 1].at_ms < s.at_ms) {
        ++at;
      }
      const CurvePoint& a = curve[at];
      const CurvePoint& b = curve[at + 1];
      const double share = (double{1} * s.at_ms - a.at_ms) / (double{1} * b.at_ms - a.at_ms);
      const auto off = [&](std::int32_t from, std::int32_t to, std::int32_t is, float within) {
        return (std::abs(from + share * (to - from) - is) - 1.0) / static_cast<double>(within);
      };
      worst = std::max({worst, off(a.elongation_um, b.elongation_um, s.elongation_um, curve.within().um),
                        off(a.force_n, b.force_n, s.force_n, curve.within().n)});
    }
    return worst;
  }
  // A point within so many ms of a moment.
  [[nodiscard]] bool has_point_at(double ms, double most_ms) const {
    for (unsigned i = 0; i < curve.size(); ++i) {
      if (std::abs(curve[i].at_ms - ms) <= most_ms) {
        return true;
      }
    }
    return false;
  }
};

double noise(std::uint32_t& random) {  // -1 to 1
  random = random * 1664525U + 1013904223U;
  return static_cast<double>(static_cast<std::int32_t>(random)) / 2147483648.0;
}

struct Shape {
  const char* name;
  std::function<double(double)> um, n;  // of ms
  double noise_n;
  double most_n;  // that the bound may come to: a bound that is loose says nothing
};

class EveryCurve : public testing::TestWithParam<Shape> {};

TEST_P(EveryCurve, KeepsEachSampleWithinItsBound) {
  for (const double length_ms : {300.0, 5'000.0, 60'000.0, 400'000.0}) {
    Drawn d;
    std::uint32_t random = 7;
    for (double ms = 0; ms < length_ms; ++ms) {
      d.add(ms, GetParam().um(ms), GetParam().n(ms) + GetParam().noise_n * noise(random));
    }
    d.curve.close();
    ASSERT_GE(d.curve.size(), 2U);
    ASSERT_LE(d.curve.size(), Curve::capacity);
    EXPECT_LE(d.worst(), 1.0) << length_ms << " ms, " << d.curve.size() << " points";
    EXPECT_LE(d.curve.within().n, GetParam().most_n) << length_ms << " ms, " << d.curve.size() << " points";
    EXPECT_EQ(d.curve[d.curve.size() - 1].at_ms, d.samples.back().at_ms);
    for (unsigned i = 1; i < d.curve.size(); ++i) {
      EXPECT_LT(d.curve[i - 1].at_ms, d.curve[i].at_ms);
    }
  }
}

double zigzag(double ms, double period, double height) {
  const double at = std::fmod(ms, period) / period;
  return height * (at < 0.5 ? at : 1.0 - at);
}

INSTANTIATE_TEST_SUITE_P(
    Shapes, EveryCurve,
    testing::Values(
        Shape{"straight", [](double ms) { return 7.0 * ms; }, [](double ms) { return 2.2 * ms; }, 0, 130},
        Shape{"noisy", [](double ms) { return 7.0 * ms; }, [](double ms) { return 2.2 * ms; }, 400, 1040},
        Shape{"loud", [](double) { return 0.0; }, [](double) { return 0.0; }, 60'000, 154e3},
        Shape{"bent", [](double ms) { return 7.0 * ms; },
              [](double ms) { return 130'000.0 * std::sin(ms / 40'000.0); }, 0, 130},
        Shape{"zigzag", [](double ms) { return 5.0 * ms; },
              [](double ms) { return zigzag(ms, 140, 3000) + zigzag(ms, 2200, 50'000); }, 20, 47e3},
        Shape{"both", [](double ms) { return zigzag(ms, 900, 40'000); },
              [](double ms) { return zigzag(ms, 1000, 90'000); }, 0, 110e3},
        Shape{"everyTick", [](double) { return 0.0; },
              [](double ms) { return std::fmod(ms, 2.0) * 50'000.0; }, 0, 101e3},
        Shape{"steps", [](double ms) { return 20'000.0 * std::floor(ms / 700.0); },
              [](double ms) { return 9'000.0 * std::floor(ms / 1100.0); }, 0, 15e3}),
    [](const auto& shape) { return std::string{shape.param.name}; });

TEST(Curve, AStraightLineIsTwoPoints) {
  Drawn d;
  for (int ms = 0; ms < 50'000; ++ms) {
    d.add(ms, 7.0 * ms, 2.3 * ms);
  }
  d.curve.close();
  EXPECT_EQ(d.curve.size(), 2U);
  EXPECT_EQ(d.curve.within().um, finest.um) << "nothing was thinned";
}

// Eleven pieces of line: each corner is a point, and no more points than that are spent.
TEST(Curve, KeepsEachCorner) {
  Drawn d;
  const double slopes[] = {2.0, 3.0, 1.0, -4.0, 2.5, 0.0, 5.0, 2.0, -1.0, 4.0, 1.5};
  double n = 0.0;
  for (int ms = 0; ms < 44'000; ++ms) {
    d.add(ms, 6.0 * ms, n);
    n += slopes[ms / 4000];
  }
  d.curve.close();
  for (int corner = 1; corner < 11; ++corner) {
    EXPECT_TRUE(d.has_point_at(corner * 4000.0, 150.0)) << corner;  // 130 N at a change of 1 N/ms
  }
  EXPECT_LE(d.curve.size(), 2U * 11U);
}

// A fall of 60 kN in 8 ms in the midst of more corners than there is room for is not thinned away.
TEST(Curve, ABreakOutlivesTheThinning) {
  Drawn d;
  for (int ms = 0; ms < 120'000; ++ms) {
    const double fallen = ms < 60'000 ? 0.0 : std::min(60'000.0, 7500.0 * (ms - 60'000 + 1));
    d.add(ms, 3.0 * ms, 80'000.0 + zigzag(ms, 300, 1500) - fallen);
  }
  d.curve.close();
  EXPECT_GT(d.curve.within().n, finest.n) << "it was thinned";
  EXPECT_LT(d.curve.within().n, 2'000.0F) << "no more than the zigzag needs";
  EXPECT_TRUE(d.has_point_at(60'000, 2));
  EXPECT_TRUE(d.has_point_at(60'008, 2));
  EXPECT_LE(d.worst(), 1.0);
}

TEST(Curve, ASampleOfNoLaterTimeIsLeftOut) {
  Curve c;
  c.start(finest);
  c.add({5, 0, 0});
  c.add({5, 9000, 9000});
  c.keep({6, 10, 10});
  c.add({4, 9000, 9000});
  c.close();
  ASSERT_EQ(c.size(), 2U);
  EXPECT_EQ(c[1].force_n, 10);
}

// ---- whole pulls of the toy jack

struct PulledCurve {
  Rig r;
  std::vector<CurvePoint> samples;  // what the books say each moving tick

  void pull(const std::function<void(Rig&)>& each) {
    r.each = each;
    r.arm();
  }
  [[nodiscard]] const Curve& curve() const { return r.c->pull().curve(); }
  // The furthest that any point between two elongations lies from the planned line, in N.
  [[nodiscard]] double off_plan(double from_um, double to_um) const {
    double most = 0.0;
    for (unsigned i = 0; i < curve().size(); ++i) {
      const CurvePoint& p = curve()[i];
      if (p.elongation_um >= from_um && p.elongation_um <= to_um) {
        most = std::max(most, std::abs(15'000.0 + p.elongation_um * 1e-6 * 325e3 - p.force_n));
      }
    }
    return most;
  }
};

// Without a fault nothing stands out: what the other tests see is not noise. Just after a change of flow the
// line is short, and friction is being overcome.
TEST(CurveOfAPull, IsThePlannedLineWithoutAFault) {
  PulledCurve p;
  p.pull({});
  ASSERT_TRUE(p.r.until(State::settle));
  p.r.run(2100);
  p.r.tap(&Switches::confirm);
  ASSERT_TRUE(p.r.until(State::ended));
  EXPECT_LT(p.off_plan(30'000, 330'000), 1000.0);
  EXPECT_LT(p.curve().size(), 100U);
  const PullReport& report = p.r.c->pull().report();
  const CurvePoint& last = p.curve()[p.curve().size() - 1];
  EXPECT_NEAR(last.elongation_um, report.elongation.si() * 1e6F, 1.0);
  EXPECT_NEAR(last.force_n, report.settle.si(), 1.0);
}

TEST(CurveOfAPull, ShowsASlip) {
  PulledCurve p;
  p.pull([](Rig& r) {
    if (r.toy.force() > 70e3 && r.toy.slack < 0.021) {
      r.toy.slack += 0.008;  // 2.6 kN: below what trips as a break
    }
  });
  ASSERT_TRUE(p.r.until(State::settle));
  p.r.run(2100);
  EXPECT_GT(p.off_plan(190'000, 330'000), 2000.0);
}

TEST(CurveOfAPull, ShowsASnag) {
  PulledCurve p;
  double held = 0.0;
  p.pull([&](Rig& r) {  // a strand that hangs on something is stiffer for a while
    if (r.toy.force() > 60e3 && r.toy.stiffness < 400e3) {
      held = r.toy.force();
      r.toy.stiffness = 400e3;
      r.toy.slack = r.toy.x - 0.010 - held / 400e3;
    }
  });
  (void)p.r.until(State::settle);
  EXPECT_GT(held, 0.0);
  EXPECT_GT(p.off_plan(200'000, 330'000), 3000.0);
}

// Oil that leaks in the settle: the ram creeps back by 2.5 mm, 0.8 kN, and the pull is topped up.
TEST(CurveOfAPull, ShowsATopUp) {
  PulledCurve p;
  int crept = 0;
  p.pull([&](Rig& r) {
    if (r.c->core().state == State::settle && r.c->core().top_ups == 0 && ++crept > 600 && crept <= 1850) {
      r.toy.x -= 2e-6;
    }
  });
  ASSERT_TRUE(p.r.until(State::settle));
  while (p.r.c->core().top_ups == 0 && crept < 3000) {
    p.r.tick();
  }
  ASSERT_EQ(p.r.c->core().top_ups, 1U);
  ASSERT_TRUE(p.r.until(State::settle));
  p.r.run(2100);
  const Curve& c = p.curve();
  bool shown = false;  // a point, the creep back behind it, and more force behind that
  for (unsigned i = 1; i + 1 < c.size(); ++i) {
    shown = shown || (c[i - 1].elongation_um - c[i].elongation_um > 2000 &&
                      c[i - 1].force_n - c[i].force_n > 600 && c[c.size() - 1].force_n - c[i].force_n > 600);
  }
  EXPECT_TRUE(shown);
}

TEST(CurveOfAPull, ShowsABreakAsFarDownAsTheTableReaches) {
  PulledCurve p;
  p.pull([](Rig& r) { r.toy.broken = r.toy.broken || r.toy.force() > 78e3; });
  ASSERT_FALSE(p.r.until(State::settle));
  ASSERT_EQ(p.r.c->core().cause, Cause::h14_strand_break);
  p.r.run(400);
  p.r.hold(false);
  p.r.tap(&Switches::reset);
  EXPECT_TRUE(p.r.c->core().replace_strand);
  Curve c = p.curve();
  c.close();  // as the end of the pull does
  const CurvePoint& last = c[c.size() - 1];
  EXPECT_LT(last.force_n, 15'000);  // its first point is 5 kN; a mean of 16 samples falls 5 kN a ms
  double peak = 0.0;
  for (unsigned i = 0; i < c.size(); ++i) {
    peak = std::max(peak, double{1} * c[i].force_n);
  }
  EXPECT_GT(peak, 70e3);
}

}  // namespace
}  // namespace strandproof::control
