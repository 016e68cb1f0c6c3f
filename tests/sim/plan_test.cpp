// The plan against the worked examples of trade.md 2.3 and 2.4 [computed there].
#include "sim/bench/plan.hpp"

#include <gtest/gtest.h>

namespace strandproof::sim {
namespace {

TEST(Plan, Example2) {  // 12.9 mm Y1860S7, 120 m
  Scenario s;
  s.strand.length = 120.0;
  s.bed.draw_in_pushed = 0.006;
  s.plan.jack_force = 130.975e3;
  const PlannedPull p = plan_pull(s);
  EXPECT_NEAR(strand_stiffness(s.strand), 162.50e3, 1.0);
  EXPECT_NEAR(p.seated, 130.0e3, 1.0);         // overpull 0.975 kN
  EXPECT_NEAR(p.limit, 0.98 * 144.0e3, 1e-6);  // EN 1992-1-1 5.10.2.1(1): P_max 144.0 kN, less 2 %
  const double ae = 100e-6 * 195e9;
  EXPECT_NEAR(p.elongation, 115.975e3 * (120.0 / ae + 0.8 / ae + 1.0 / s.bed.abutment_stiffness), 1e-9);
}

TEST(Plan, Example1TailStretchAndNetElongation) {  // 1/2 in Gr 270, 400 ft
  Scenario s;
  s.strand.area = 0.153 * 0.0254 * 0.0254;
  s.strand.modulus = 28.5e6 * 6894.757293168;
  s.strand.length = 121.92;
  s.strand.tail = 30 * 0.0254;
  s.bed.abutment_stiffness = 1e12;  // the example adds the abutment's movement as a length
  s.plan.initial = 13.345e3;
  s.plan.jack_force = 143.712e3;
  const PlannedPull p = plan_pull(s);
  EXPECT_NEAR(strand_stiffness(s.strand), 159.09e3, 10.0);
  // D_net to the jack force (809.92 + 9.525 mm of overpull) and the tail's 5.121 mm.
  EXPECT_NEAR(p.elongation * 1e3, 809.92 + 9.525 + 5.121, 0.1);
}

TEST(Plan, WhatTheScenarioGivesGoesBefore) {
  Scenario s;
  s.plan.seated = 120e3;
  s.plan.limit = 135e3;
  s.plan.stiffness = 3e5;
  s.plan.elongation = 0.38;
  s.plan.slack_max = 0.08;
  const PlannedPull p = plan_pull(s);
  EXPECT_EQ(p.seated, 120e3);
  EXPECT_EQ(p.limit, 135e3);
  EXPECT_EQ(p.stiffness, 3e5);
  EXPECT_EQ(p.elongation, 0.38);
  EXPECT_EQ(p.slack_max, 0.08);
}

}  // namespace
}  // namespace strandproof::sim
