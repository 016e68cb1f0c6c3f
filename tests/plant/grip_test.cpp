// A strand pulled in two strokes: trade.md 1.1 step 8, 2.2 item 13, and example 2 of 2.4.
#include <gtest/gtest.h>

#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

// trade.md 2.4: the dead end's 3 mm and the abutments' 2 mm at 115 kN are one spring there. Ideal oil, and
// wedges as stiff as nothing else.
Parameters example_2() {
  Parameters p = ideal_jack();
  p.strand.L = 120.0;
  p.strand.L_tail = 0.8;
  p.strand.k_abutment = 115e3 / 5e-3;
  p.chucks.draw_in_pushed = 6e-3;
  p.chucks.k_wedge = 1e12;
  p.ram.stroke = 1.2;
  return p;
}

double series(const Parameters& p, double tail) {
  return (p.strand.L + tail) / (p.strand.A * p.strand.E) + 1.0 / p.strand.k_abutment;
}

// Seats, and lets the ram back to this stroke.
void re_stroke(Plant& plant, double to_x) {
  run(plant, blocked, 1000);
  run(plant, push_wedges, 1500);
  for (int i = 0; i < 200'000 && plant.truth().x_ram > to_x; ++i) {
    plant.step(let_down);
  }
  run(plant, blocked, 1000);
}

// On until the live-end chuck carries nothing.
void to_lift_off(Plant& plant) {
  for (int i = 0; i < 200'000 && plant.truth().F_chuck > 0.0; ++i) {
    plant.step(pull_slow);
  }
}

// 500 mm of stroke from 15 kN end at 95.149 kN; after the re-bite the chuck holds 94.18 kN.
TEST(Grip, ExampleTwoEndsItsFirstStrokeAndHoldsWhatTheTradeSays) {
  Plant plant(example_2());
  ASSERT_TRUE(pull_to(plant, 15e3));
  const double datum = plant.truth().x_ram - (plant.truth().F_strand_live - 15e3) * series(example_2(), 0.8);
  while (plant.truth().x_ram < datum + 0.5) {
    plant.step(pull_fast);
  }
  EXPECT_NEAR(plant.truth().F_strand_live, 95'149.0, 0.001 * 95'149.0);
  re_stroke(plant, 0.01);
  EXPECT_EQ(plant.truth().F_jack, 0.0);
  EXPECT_NEAR(plant.truth().F_chuck, 94'180.0, 0.001 * 94'180.0);
}

TEST(Grip, LiftsOffAtTheLockedForceAndTheTailIsTightBeforeByItsOwnStretch) {
  const Parameters p = example_2();
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 80e3));
  re_stroke(plant, 0.01);
  const double locked = plant.truth().F_chuck, turned = plant.truth().x_ram, u = plant.truth().elongation;
  to_lift_off(plant);
  EXPECT_NEAR(plant.truth().F_jack / locked, 1.0, 1e-3);
  EXPECT_NEAR(plant.truth().elongation, u, 1e-4) << "no strand moves at the chuck before the lift-off";
  const double stretch = locked * p.strand.L_tail / (p.strand.A * p.strand.E);
  EXPECT_NEAR(plant.truth().x_ram - turned, p.grip.draw_in + stretch, 1e-4);
}

// The strand moves at the chuck as in one long stroke; the ram travels more by draw-in, tail and grip.
TEST(Grip, TwoStrokesStretchTheStrandAsOneDoes) {
  const Parameters p = example_2();
  Plant one(p), two(p);
  ASSERT_TRUE(pull_to(one, 128e3) && pull_to(one, 130e3, pull_slow));
  ASSERT_TRUE(pull_to(two, 80e3));
  run(two, blocked, 1000);
  const double first = two.truth().x_ram, settled = two.truth().F_strand_live;
  re_stroke(two, 0.01);
  const double drawn = two.truth().draw_in, locked = two.truth().F_chuck, turned = two.truth().x_ram;
  to_lift_off(two);
  ASSERT_TRUE(pull_to(two, 128e3) && pull_to(two, 130e3, pull_slow));
  EXPECT_NEAR(two.truth().elongation, one.truth().elongation, 2e-5);
  const double ram = first + two.truth().x_ram - turned;
  const double lost = p.grip.draw_in + drawn + settled * p.strand.L_tail / (p.strand.A * p.strand.E);
  EXPECT_NEAR(ram - one.truth().x_ram, lost, 2e-4);
  EXPECT_NEAR(settled - locked, drawn / series(p, 0.0), 0.002 * settled);
}

TEST(Grip, ThatBitesAtOnceLosesNoTravel) {
  Parameters p = example_2();
  p.grip.draw_in = 0.0;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 80e3));
  re_stroke(plant, 0.01);
  const double turned = plant.truth().x_ram;
  while (plant.truth().F_jack == 0.0) {
    plant.step(pull_slow);
  }
  EXPECT_LT(plant.truth().x_ram - turned, 1e-4);
}

// The tail hangs on to the grip as long as the strand pulls it: nothing is taken anew under load.
TEST(Grip, HoldsWhileItPulls) {
  Plant plant(example_2());
  ASSERT_TRUE(pull_to(plant, 80e3));
  run(plant, blocked, 500);
  const double x = plant.truth().x_ram, F = plant.truth().F_jack;
  run(plant, let_down, 8000);
  run(plant, blocked, 500);
  ASSERT_LT(plant.truth().F_jack, 0.95 * F);
  ASSERT_TRUE(pull_to(plant, F));
  EXPECT_NEAR(plant.truth().x_ram, x, 1e-4);
}

}  // namespace
}  // namespace strandproof::plant
