// Seating: the force lost is k times the draw-in (trade.md 2.2 item 3 and the table of 2.5).
#include <gtest/gtest.h>

#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

// Pulls, settles, pushes the wedges, lets the jack down. The truth before and after.
struct Seating {
  Truth before, after;
};
Seating seat(Plant& plant, double force, int push_ms = 1500) {
  EXPECT_TRUE(pull_to(plant, force));
  run(plant, blocked, 2000);
  run(plant, push_wedges, push_ms);
  run(plant, blocked, 200);
  Seating s{plant.truth(), {}};
  run(plant, let_down, 12'000);
  run(plant, blocked, 500);
  s.after = plant.truth();
  return s;
}

// 15.2 mm, 196.5 GPa, 195.53 kN, 6 mm: 16.506 kN on 10 m, 5.502 on 30 m, 1.651 on 100 m.
TEST(Chuck, SeatingLossOfSixMillimetres) {
  const struct { double L, loss; } rows[] = {{10.0, 16'506.0}, {30.0, 5'502.0}, {100.0, 1'651.0}};
  for (const auto& row : rows) {
    Parameters p;
    p.strand.A = 140e-6, p.strand.E = 196.5e9, p.strand.f_pu = 260.7e3 / 140e-6,
    p.strand.f_1 = 0.92 * p.strand.f_pu;
    p.strand.L = row.L;
    p.strand.k_abutment = 1e15;
    p.chucks.draw_in_pushed = 6e-3;
    p.chucks.k_wedge = 1e12;
    p.ram.A_cap = 70e-4;
    p.ram.stroke = 1.2;
    Plant plant(p);
    const Seating s = seat(plant, 195.53e3);
    EXPECT_EQ(s.after.F_jack, 0.0) << row.L;
    EXPECT_NEAR(s.after.draw_in, 6e-3, 1e-5) << row.L;
    EXPECT_NEAR((s.before.F_strand_live - s.after.F_chuck) / row.loss, 1.0, 0.005) << row.L;
  }
}

TEST(Chuck, LoadGoesFromJackToChuckAndTheRamRunsFree) {
  const Parameters p;
  Plant plant(p);
  const Seating s = seat(plant, 130e3);
  EXPECT_EQ(s.before.F_chuck, 0.0);
  EXPECT_EQ(s.after.F_jack, 0.0);
  EXPECT_NEAR(s.after.F_chuck, s.after.F_strand_live, 1e-3);
  const double k = 1.0 / (p.strand.L / (p.strand.A * p.strand.E) + 1.0 / p.strand.k_abutment);
  EXPECT_NEAR((s.before.F_strand_live - s.after.F_chuck) / (k * s.after.draw_in), 1.0, 0.002);
  EXPECT_NEAR(s.after.draw_in, p.chucks.draw_in_pushed + s.after.F_chuck / p.chucks.k_wedge, 2e-5);
  const double x = s.after.x_ram;
  run(plant, let_down, 2000);
  EXPECT_LT(plant.truth().x_ram, x - 4e-3);
  EXPECT_LT(plant.truth().p_cap, 0.5e6);
}

TEST(Chuck, HalfAPushDrawsInMore) {
  const Parameters p;
  Plant whole(p), half(p);
  const double seated = seat(whole, 130e3).after.draw_in;
  Seating s;
  int ms = 40;
  for (; ms < 400; ms += 5) {  // the push takes some tenths of a second: find one that ends within it
    Plant plant(p);
    s = seat(plant, 130e3, ms);
    if (s.before.wedges_pushed > 0.3 && s.before.wedges_pushed < 0.8) {
      break;
    }
  }
  ASSERT_LT(ms, 400);
  EXPECT_GT(s.after.draw_in, seated + 0.5e-3);
  EXPECT_LT(s.after.draw_in, p.chucks.draw_in + 0.5e-3);
}

TEST(Chuck, WithoutAPushTheKeeperLetsTheLoadOff) {
  Plant plant{Parameters{}};
  ASSERT_TRUE(pull_to(plant, 50e3));
  run(plant, blocked, 500);
  run(plant, let_down, 120'000);
  EXPECT_EQ(plant.truth().F_strand_live, 0.0);
  EXPECT_EQ(plant.truth().F_chuck, 0.0);
}

TEST(Chuck, WithoutAKeeperTheWedgesCatchAtTheirFullDrawIn) {
  Parameters p;
  p.chucks.keeper = false;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 50e3));
  run(plant, blocked, 500);
  run(plant, let_down, 20'000);
  EXPECT_EQ(plant.truth().F_jack, 0.0);
  EXPECT_NEAR(plant.truth().draw_in, p.chucks.draw_in + plant.truth().F_chuck / p.chucks.k_wedge, 2e-5);
}

// Lift-off: the chuck hangs on to its force until the jack's passes it, then carries nothing.
TEST(Chuck, LiftsOffWhenTheJackPassesItsForce) {
  Plant plant{Parameters{}};
  const Seating s = seat(plant, 100e3);
  const double locked = s.after.F_chuck;
  while (plant.truth().F_jack < 0.5 * locked) {
    plant.step(pull_slow);
  }
  EXPECT_NEAR(plant.truth().F_strand_live, locked, 0.002 * locked);
  EXPECT_NEAR(plant.truth().F_chuck, plant.truth().F_strand_live - plant.truth().F_jack, 1.0);
  while (plant.truth().F_jack < 1.05 * locked) {
    plant.step(pull_slow);
  }
  EXPECT_EQ(plant.truth().F_chuck, 0.0);
  EXPECT_NEAR(plant.truth().F_strand_live, plant.truth().F_jack, 1.0);
}

TEST(Chuck, NextStrandIsThreadedOnlyOntoAnUnloadedJack) {
  Plant plant{Parameters{}};
  ASSERT_TRUE(pull_to(plant, 60e3));
  run(plant, blocked, 500);
  EXPECT_FALSE(plant.thread_strand());
  EXPECT_GT(plant.truth().F_jack, 59e3);
  run(plant, push_wedges, 1500);
  run(plant, let_down, 20'000);
  EXPECT_TRUE(plant.thread_strand());
  EXPECT_EQ(plant.truth().F_strand_live, 0.0);
  EXPECT_GT(plant.truth().slack_left, 0.039);
  EXPECT_TRUE(pull_to(plant, 60e3));
}

}  // namespace
}  // namespace strandproof::plant
