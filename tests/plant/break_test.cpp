// A full break: force gone at once, pressure down to what friction needs, and the ram thrown no further than
// its oil expands.
#include <gtest/gtest.h>

#include "sim/plant/oil.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

TEST(Break, OilExpandsAndTheRamStops) {
  const Parameters p;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 130e3));
  run(plant, blocked, 1000);
  const Truth before = plant.truth();
  plant.break_strand(0.0);
  run(plant, blocked, 1);
  EXPECT_EQ(plant.truth().F_strand_live, 0.0);
  EXPECT_EQ(plant.truth().F_jack, 0.0);
  EXPECT_TRUE(plant.truth().broken);
  run(plant, blocked, 50);
  EXPECT_LT(plant.truth().p_cap, 0.1 * before.p_cap);
  run(plant, blocked, 2000);
  const Truth& t = plant.truth();
  EXPECT_LT(t.p_cap, 1e6);
  EXPECT_NEAR(t.v_ram, 0.0, 1e-3);
  // The same oil at the lower pressure: V2/V1 of the mixture.
  const Mixture oil(p.oil);
  const double V = p.ram.V_cap + p.ram.A_cap * before.x_ram;
  const double expansion = V * (oil.at(t.p_cap).volume / oil.at(before.p_cap).volume - 1.0) / p.ram.A_cap;
  EXPECT_NEAR((t.x_ram - before.x_ram) / expansion, 1.0, 1e-6);
  EXPECT_GT(expansion, 5e-3);
}

TEST(Break, WhilePumpingAndAfterSeating) {
  Plant pumping{Parameters{}};
  ASSERT_TRUE(pull_to(pumping, 78e3));
  pumping.break_strand(0.0);
  run(pumping, pull_fast, 30);
  EXPECT_EQ(pumping.truth().F_jack, 0.0);
  EXPECT_LT(pumping.truth().p_cap, 2e6);

  Plant seated{Parameters{}};
  ASSERT_TRUE(pull_to(seated, 100e3));
  run(seated, push_wedges, 1500);
  run(seated, let_down, 12'000);
  ASSERT_GT(seated.truth().F_chuck, 90e3);
  seated.break_strand(0.0);
  run(seated, blocked, 1);
  EXPECT_EQ(seated.truth().F_chuck, 0.0);
  EXPECT_EQ(seated.truth().F_strand_live, 0.0);
}

TEST(Break, ABrokenStrandStaysSlackUntilTheNextIsThreaded) {
  Plant plant{Parameters{}};
  ASSERT_TRUE(pull_to(plant, 40e3));
  plant.break_strand(0.0);
  run(plant, pull_fast, 8000);
  EXPECT_EQ(plant.truth().F_jack, 0.0);
  EXPECT_TRUE(plant.thread_strand());
  EXPECT_FALSE(plant.truth().broken);
  EXPECT_TRUE(pull_to(plant, 40e3));
}

TEST(Break, TheRigHasNothingToBreak) {
  Parameters p;
  p.rig.fitted = true;
  Plant plant(p);
  run(plant, pull_fast, 6000);
  const double F = plant.truth().F_jack;
  ASSERT_GT(F, 10e3);
  EXPECT_NEAR(F, p.rig.k * (plant.truth().x_ram - p.rig.x_free), 1e-6 * F);
  plant.break_strand(0.0);
  run(plant, pull_fast, 100);
  EXPECT_GT(plant.truth().F_jack, F);
  EXPECT_NEAR(plant.truth().cell, plant.truth().F_jack, 0.01 * F);
}

}  // namespace
}  // namespace strandproof::plant
