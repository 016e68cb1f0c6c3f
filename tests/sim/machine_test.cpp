// A scenario's strand becomes the plant's: every listed seven-wire strand must pull to its jacking limit.
#include "sim/bench/machine.hpp"

#include <gtest/gtest.h>

#include "sim/plant/plant.hpp"

namespace strandproof::sim {
namespace {

struct Size {
  const char* name;
  double mm2, kn;
};
// Area and breaking force: EN 10138-3, table 2, and ASTM A416 Grade 250 and 270 (trade.md 4.1 and 4.2).
constexpr Size sizes[] = {
    {"Y1860S7 9.0", 50, 93},          {"Y1860S7 12.5", 93, 173},       {"Y1860S7 12.9", 100, 186},
    {"Y1860S7 15.2", 140, 260},       {"Y1860S7 15.7", 150, 279},      {"Y1770S7 15.2", 140, 248},
    {"Y1960S7 9.0", 50, 98},          {"Y2060S7 7.0", 30, 62},         {"Y2160S7 6.85", 28.2, 60.9},
    {"Y1820S7G 15.2", 165, 300},      {"Grade 250 12.7", 92.9, 160.1}, {"Grade 270 12.7", 98.7, 183.7},
    {"Grade 270 15.2", 140.0, 260.7},
};

TEST(Machine, EveryListedStrandPullsToEightTenthsOfItsStrength) {
  for (const Size& size : sizes) {
    Scenario s;
    s.strand.area = size.mm2 * 1e-6;
    s.strand.breaking_force = size.kn * 1e3;
    s.strand.length = 20.0;
    s.jack.area = 70e-4;  // the embedded jack is too small for the largest
    plant::Plant plant(bed_plant(s));
    const double most = 0.8 * s.strand.breaking_force;
    for (int i = 0; i < 60'000 && plant.truth().F_strand_live < most; ++i) {
      plant.step({.motor = true, .fast_stage = true, .advance = true, .shut_off_open = true});
    }
    EXPECT_GE(plant.truth().F_strand_live, most) << size.name;
    EXPECT_FALSE(plant.truth().broken) << size.name;
    // The curve is softer than PL/AE, by no more than the least curve of Grade 270: 4.9 % (trade.md 2.2).
    // That bound says nothing of weaker steel.
    const double straight = most * s.strand.length / (s.strand.area * s.strand.modulus);
    const double taken = plant.truth().elongation - s.strand.slack - plant.truth().dead_draw_in -
                         most / s.bed.abutment_stiffness;
    EXPECT_GT(taken / straight, 0.999) << size.name;
    if (size.kn / size.mm2 >= 1.77) {
      EXPECT_LT(taken / straight, 1.049) << size.name;
    }
  }
}

// The curve goes through what a reel's certificate says: force at 1 % strain, breaking force, strain at
// break.
TEST(Machine, AReelsCertificateSetsItsCurve) {
  Scenario s;
  s.strand.area = 101.2e-6;
  s.strand.modulus = 197.3e9;
  s.strand.breaking_force = 194.6e3;
  s.strand.force_at_1_percent = 178.0e3;
  s.strand.ultimate_strain = 0.061;
  s.strand.length = 5.0;
  s.strand.slack = 0.0;
  s.bed.abutment_stiffness = 1e12;
  s.bed.dead_draw_in = 0.0;
  s.jack.area = 80e-4;
  plant::Plant plant(bed_plant(s));
  double at_1 = 0.0;
  double at_break = 0.0;
  for (int i = 0; i < 200'000 && !plant.truth().broken; ++i) {
    const double strain = plant.truth().elongation / s.strand.length;
    const double force = plant.truth().F_strand_live;
    at_1 = strain <= 0.01 ? force : at_1;
    at_break = force;
    EXPECT_LE(strain, 0.0611);
    plant.step({.motor = true, .fast_stage = true, .advance = true, .shut_off_open = true});
  }
  ASSERT_TRUE(plant.truth().broken);
  EXPECT_NEAR(at_1, 178.0e3, 100.0);
  EXPECT_NEAR(at_break, 194.6e3, 200.0);
}

}  // namespace
}  // namespace strandproof::sim
