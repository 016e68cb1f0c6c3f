// News along the strand travels at sqrt(E/rho): trade.md 6.4, item 8. Until it arrives nothing moves at the
// live end, and what arrives is the whole of it.
#include <gtest/gtest.h>

#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

// Ticks until the live end's force differs from that of a twin to which nothing happened, by more than the
// end of a stretch that was run again tick by tick may.
template <class Do>
int felt_after(const Parameters& p, Do&& happens) {
  Plant struck(p), twin(p);
  EXPECT_TRUE(pull_to(struck, 70e3));
  EXPECT_TRUE(pull_to(twin, 70e3));
  happens(struck);
  for (int ticks = 0; ticks < 1000; ++ticks) {
    struck.step(pull_slow);
    twin.step(pull_slow);
    const double off = struck.truth().F_strand_live - twin.truth().F_strand_live;
    if (!(off > -0.5 && off < 0.5)) {
      return ticks;
    }
    EXPECT_NEAR(struck.truth().p_a, twin.truth().p_a, 100.0);
    EXPECT_FALSE(struck.truth().broken);
  }
  return -1;
}

// 4,984 m/s at 195 GPa, 5,003 at 196.5: 20.06 ms over 100 m.
TEST(Wave, TakesTheTimeOfSoundInSteel) {
  Parameters p;
  p.strand.L = 120.0;
  const Plant plant(p);
  EXPECT_EQ(plant.wave_ticks(0.0), 0);
  EXPECT_EQ(plant.wave_ticks(100.0), 20);
  EXPECT_EQ(plant.wave_ticks(4.9), 0);
  EXPECT_EQ(plant.wave_ticks(5.0), 1);
  EXPECT_EQ(plant.wave_ticks(4983.0), 999);
  EXPECT_EQ(plant.wave_ticks(4985.0), 1000);
  p.strand.E = 196.5e9;
  EXPECT_EQ(Plant(p).wave_ticks(5004.0), 1000);
}

TEST(Wave, NothingIsFeltBeforeItArrives) {
  Parameters p;
  p.strand.L = 120.0;
  EXPECT_EQ(felt_after(p, [](Plant& s) { s.break_strand(0.0); }), 0);
  EXPECT_EQ(felt_after(p, [](Plant& s) { s.break_strand(100.0); }), 20);
  EXPECT_EQ(felt_after(p, [](Plant& s) { s.ail({.wires_lost = 1, .wires_at = 60.0}); }), 12);
  EXPECT_EQ(felt_after(p, [](Plant& s) { s.slip(Slip::dead_end, 5e-3); }), 24);
  EXPECT_EQ(felt_after(p, [](Plant& s) { s.slip(Slip::grip, 5e-3); }), 0);
}

// A strand of 120 m, pulled and at rest.
Plant held_at_70_kn() {
  Parameters p;
  p.strand.L = 120.0;
  Plant plant(p);
  EXPECT_TRUE(pull_to(plant, 70e3));
  run(plant, blocked, 500);
  return plant;
}

// Two at once arrive in the order of their ways; a leak told meanwhile waits for neither and loses neither.
TEST(Wave, EachNewsArrivesInItsOwnTime) {
  Plant plant = held_at_70_kn();
  const double F = plant.truth().F_strand_live;
  plant.ail({.wires_lost = 1, .wires_at = 100.0});
  plant.slip(Slip::dead_end, 5e-3);
  run(plant, blocked, 5);
  plant.ail({.wires_lost = 1, .wires_at = 100.0, .piston_leak = 1e-7});
  run(plant, blocked, 15);
  EXPECT_NEAR(plant.truth().F_strand_live, F, 0.01 * F) << "20 ticks: neither";
  run(plant, blocked, 1);
  EXPECT_NEAR(plant.truth().F_strand_live / F, 6.0 / 7.0, 0.01) << "the wire";
  run(plant, blocked, 4);
  EXPECT_NEAR(plant.truth().F_strand_live / F, 6.0 / 7.0 - 6.0 / 7.0 * 5e-3 / plant.truth().elongation, 0.01);
}

// Each kind has its own place: the nearer one is felt first, whichever was told first.
TEST(Wave, WiresAndASnagEachHaveTheirPlace) {
  Plant plant = held_at_70_kn();
  const double F = plant.truth().F_strand_live;
  plant.ail({.wires_lost = 1, .free_length = 0.5, .wires_at = 100.0, .snag_at = 50.0});
  run(plant, blocked, 10);
  EXPECT_NEAR(plant.truth().F_strand_live, F, 1.0) << "neither";
  run(plant, blocked, 1);
  EXPECT_GT(plant.truth().F_strand_live, 1.2 * F) << "the snag: half of the length has all of the stretch";
  const double hung = plant.truth().F_strand_live;
  run(plant, blocked, 9);
  EXPECT_NEAR(plant.truth().F_strand_live, hung, 0.01 * hung);
  run(plant, blocked, 1);
  EXPECT_LT(plant.truth().F_strand_live, 0.95 * hung) << "the wire";
}

// What was on its way belongs to the strand that is gone.
TEST(Wave, TheNextStrandHearsNothingOfTheLast) {
  Plant plant{Parameters{}};
  plant.break_strand(50.0);
  ASSERT_TRUE(plant.thread_strand());
  run(plant, blocked, 100);
  EXPECT_FALSE(plant.truth().broken);
}

}  // namespace
}  // namespace strandproof::plant
