// Whole pulls over the range of beds, oils, valves and pumps that a campaign draws from: the scheme as
// shipped against the same drive in steps eight times finer, on peak, held and locked force. Decisions are
// taken by the shipped run alone and replayed tick by tick, so that only the scheme differs.
#include <gtest/gtest.h>

#include <cstdint>
#include <vector>

#include "sim/plant/math.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

constexpr int pulls = 24;
// Lowered on until the grip is clear of the strand: before that a tick more or less, 8 um on the short tail,
// is 200 N between jack and chuck.
constexpr int clear_ms = 1000;

// Sebastiano Vigna's splitmix64 (public domain, constants from memory): any even spread would do.
class Draw {
 public:
  explicit Draw(std::uint64_t seed) : state_{seed} {}
  double between(double low, double high) {
    std::uint64_t z = state_ += 0x9E3779B97F4A7C15ULL;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return low + (high - low) * static_cast<double>((z ^ (z >> 31U)) >> 11U) * 0x1p-53;
  }

 private:
  std::uint64_t state_;
};

Parameters drawn(Draw& d) {
  Parameters p;
  p.oil.air = 0.001 * power(30.0, d.between(0.0, 1.0));
  p.pump.scale = d.between(0.8, 1.2);
  p.valves.delay = 1e-3 * d.between(5.0, 40.0);
  p.valves.tau = d.between(0.002, 0.012);
  p.friction.fraction = d.between(0.01, 0.05);
  p.friction.scatter = d.between(-0.3, 0.3);
  p.strand.L = 10.0 * power(6.0, d.between(0.0, 1.0));
  p.strand.slack = d.between(0.0, 0.08);
  p.strand.k_abutment = 5e7 * power(10.0, d.between(0.0, 1.0));
  p.chucks.draw_in_pushed = d.between(0.002, 0.004);
  p.hose.V = d.between(0.1e-3, 0.6e-3);
  p.ram.V_cap = d.between(0.1e-3, 0.4e-3);
  return p;
}

struct Forces {
  double peak = 0.0, held = 0.0, locked = 0.0;
};

class Pull {
 public:
  explicit Pull(const Parameters& p) : plant_{p} {}
  const Truth& truth() const { return plant_.truth(); }
  void run(const Drive& drive, int ticks) {
    for (int i = 0; i < ticks; ++i) {
      plant_.step(drive);
      forces.peak = at_least(forces.peak, truth().F_strand_live);
    }
  }
  // Ticks that it took.
  template <typename Condition>
  int until(const Drive& drive, Condition done) {
    int ticks = 0;
    for (; ticks < 200'000 && !done(truth()); ++ticks) {
      run(drive, 1);
    }
    return ticks;
  }
  Forces forces;

 private:
  Plant plant_;
};

struct Decisions {
  int fast = 0, slow = 0, lower = 0;
};

Forces decide(const Parameters& p, double target, Decisions& d) {
  Pull pull(p);
  d.fast = pull.until(pull_fast, [&](const Truth& t) { return t.F_jack > 0.9 * target; });
  d.slow = pull.until(pull_slow, [&](const Truth& t) { return t.F_jack > target; });
  pull.run(blocked, 2000);
  pull.forces.held = pull.truth().F_strand_live;
  pull.run(push_wedges, 1500);
  d.lower = pull.until(let_down, [](const Truth& t) { return t.F_jack <= 0.0; });
  pull.run(let_down, clear_ms);
  pull.run(blocked, 1000);
  pull.forces.locked = pull.truth().F_strand_live;
  return pull.forces;
}

Forces replay(const Parameters& p, const Decisions& d) {
  Pull pull(p);
  pull.run(pull_fast, d.fast);
  pull.run(pull_slow, d.slow);
  pull.run(blocked, 2000);
  pull.forces.held = pull.truth().F_strand_live;
  pull.run(push_wedges, 1500);
  pull.run(let_down, d.lower);
  pull.run(let_down, clear_ms);
  pull.run(blocked, 1000);
  pull.forces.locked = pull.truth().F_strand_live;
  return pull.forces;
}

TEST(RandomPulls, StepsEightTimesFinerChangeNoForce) {
  Draw draw(20'251'125);
  for (int i = 0; i < pulls; ++i) {
    const Parameters p = drawn(draw);
    const double target = draw.between(100e3, 140e3);
    Decisions d;
    const Forces shipped = decide(p, target, d);
    Parameters finer = p;
    finer.scheme.substeps *= 8;
    finer.scheme.substeps_transient *= 8;
    const Forces fine = replay(finer, d);
    ASSERT_GT(shipped.peak, target) << "pull " << i;
    ASSERT_GT(shipped.locked, 0.8 * target) << "pull " << i;
    EXPECT_NEAR(shipped.peak, fine.peak, 1e-4 * target) << "pull " << i;
    EXPECT_NEAR(shipped.held, fine.held, 1e-4 * target) << "pull " << i;
    EXPECT_NEAR(shipped.locked, fine.locked, 1e-4 * target) << "pull " << i;
  }
}

}  // namespace
}  // namespace strandproof::plant
