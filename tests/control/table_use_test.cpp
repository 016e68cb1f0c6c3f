// The live gauge table: its figures against exact arithmetic on the stored integers, and what happens when a
// bit of it flips in memory (H20). And the zero check before arming (H06).
#include <gtest/gtest.h>

#include <cstdio>
#include <cstring>
#include <random>

#include "tests/control/toy_jack.hpp"

namespace strandproof::control {
namespace {

using units::Pressure;

struct Columns {
  std::uint32_t mbar[table_points_max] = {}, newton[table_points_max] = {};
  unsigned count = 0;
};

// Invented columns: steps of 2 to 30 bar, slopes of jacks of 20 to 120 cm2.
Columns random_columns(std::mt19937& random) {
  const auto between = [&](unsigned low, unsigned high) {
    return std::uniform_int_distribution<unsigned>{low, high}(random);
  };
  Columns c;
  c.count = between(table_points_min, table_points_max);
  std::uint32_t mbar = between(2'000, 20'000);
  double force = 0.2 * mbar;
  for (unsigned i = 0; i < c.count; ++i) {
    c.mbar[i] = mbar;
    c.newton[i] = static_cast<std::uint32_t>(force);
    const unsigned step = between(2'000, 30'000);
    mbar += step;
    force += step * (0.2 + 1.0e-4 * between(0, 10'000));
  }
  return c;
}

// The line between the two stored points, in double, from the integers: the reference.
double exact(const Columns& c, double pascal) {
  unsigned i = 0;
  while (i + 2 < c.count && pascal >= 100.0 * c.mbar[i + 1]) {
    ++i;
  }
  const double p0 = 100.0 * c.mbar[i], p1 = 100.0 * c.mbar[i + 1];
  return c.newton[i] + (pascal - p0) * (double(c.newton[i + 1]) - c.newton[i]) / (p1 - p0);
}

// Both branches of both channels are four such columns: a column does not know which it is.
TEST(GaugeColumn, AgreesWithExactArithmeticOnItsIntegers) {
  std::mt19937 random{20261125};
  double worst = 0.0;
  int readings = 0;
  for (int table = 0; table < 500; ++table) {
    GaugeTable t;
    for (GaugeColumn* column : {&t.a_increasing, &t.a_decreasing, &t.b_increasing, &t.b_decreasing}) {
      const Columns c = random_columns(random);
      ASSERT_EQ(column->set(c.mbar, c.newton, c.count), Refusal::none);
      const double low = 100.0 * c.mbar[0], high = 100.0 * c.mbar[c.count - 1];
      for (int k = 0; k < 50; ++k) {
        const auto p = static_cast<float>(std::uniform_real_distribution{low, high}(random));
        const Reading r = column->at(Pressure::from_si(p));
        if (!r.inside) {
          continue;  // a pressure that rounds to beyond an end
        }
        ++readings;
        const double wanted = exact(c, static_cast<double>(p));
        worst = std::max(worst, std::abs(static_cast<double>(r.force.si()) / wanted - 1.0));
      }
    }
  }
  std::printf("%d readings, worst relative difference %.2e\n", readings, worst);
  EXPECT_GT(readings, 99'000);
  EXPECT_LT(worst, 1.0e-6);
}

// Each bit of the object, one at a time, against a sweep over all pieces: a reading is the right one or says
// that the table has changed; never a wrong force.
TEST(GaugeColumn, H20_NoFlippedBitGivesAWrongForce) {
  std::mt19937 random{7};
  Columns c;
  while (c.count != table_points_max) {  // full: every bit is in use
    c = random_columns(random);
  }
  GaugeColumn good;
  ASSERT_EQ(good.set(c.mbar, c.newton, c.count), Refusal::none);
  std::vector<Pressure> sweep;
  for (unsigned i = 0; i + 1 < c.count; ++i) {
    for (const double share : {0.0, 0.03, 0.5, 0.97}) {
      sweep.push_back(Pressure::from_si(
          static_cast<float>(100.0 * (c.mbar[i] + share * (double(c.mbar[i + 1]) - c.mbar[i])))));
    }
  }
  sweep.push_back(Pressure::from_si(static_cast<float>(100.0 * c.mbar[c.count - 1])));
  std::size_t found = 0, silent = 0;
  for (std::size_t bit = 0; bit < 8 * sizeof good; ++bit) {
    GaugeColumn column = good;
    auto* bytes = reinterpret_cast<std::uint8_t*>(&column);
    bytes[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    bool changed = false;
    for (const Pressure p : sweep) {
      const Reading r = column.at(p);
      const Reading wanted = good.at(p);
      changed = changed || r.changed;
      ASSERT_TRUE(r.changed || (r.inside == wanted.inside && r.force == wanted.force &&
                                r.newton_per_pascal == wanted.newton_per_pascal))
          << "bit " << bit;
    }
    ++(changed ? found : silent);
  }
  std::printf("%zu flipped bits, %zu found on use, %zu not\n", found + silent, found, silent);
  EXPECT_EQ(silent, 0U);
}

struct Armed {
  ToyJack toy;
  int off_a = 0;  // counts that channel A is off
  Controller c{toy.jack, default_settings};
  Armed() {
    EXPECT_EQ(c.install(toy_table(toy)), Refusal::none);
    EXPECT_EQ(c.load(toy_instruction(toy)), Refusal::none);
    c.gates({.clock = Refusal::none});
  }
  Commands run(int n, bool table_changed = false) {
    Commands out;
    for (int i = 0; i < n; ++i) {
      Inputs in = toy.inputs();
      in.table_changed = table_changed;
      in.analog.pressure_a = static_cast<std::uint16_t>(in.analog.pressure_a + off_a);
      out = c.tick(in);
      toy.move(out);
    }
    return out;
  }
  Refusal confirm() {
    toy.is.confirm = true;
    run(1);
    const Refusal r = c.report().step.refusal;
    toy.is.confirm = false;
    run(1);
    return r;
  }
  void pull_to_main() {
    run(1500);
    ASSERT_EQ(confirm(), Refusal::none);
    toy.is.enable_1 = toy.is.enable_2 = toy.is.advance = true;
    for (int i = 0; i < 60'000 && c.core().state != State::main_pull; ++i) {
      run(1);
    }
    ASSERT_EQ(c.core().state, State::main_pull);
  }
};

// A cosmic ray: the table that the controller holds, changed behind its back.
void flip_bits_of_b(Controller& c) {
  auto& live = const_cast<GaugeTable&>(c.table());  // NOLINT(cppcoreguidelines-pro-type-const-cast)
  auto* bytes = reinterpret_cast<std::uint8_t*>(&live.b_increasing);
  for (std::size_t i = 0; i < 12 * table_points_max; i += 4) {
    bytes[i] ^= 0x01;  // the lowest bit of each number: a force that looks right
  }
}

// Near its end a pull works its force out in every tick, and so the next one finds what has changed.
TEST(TableInUse, H20_NearTheEndTheTableIsUsedInEveryTick) {
  for (int later = 0; later < 8; ++later) {  // in every place of a fourth tick
    Armed a;
    a.pull_to_main();
    const auto near = [&] { return a.c.force().a.force >= 0.92F * a.c.instruction().jack; };
    while (a.c.core().state == State::main_pull && !near()) {
      a.run(1);
    }
    a.run(later);
    ASSERT_EQ(a.c.core().state, State::main_pull);
    flip_bits_of_b(a.c);
    a.run(1);
    EXPECT_EQ(a.c.core().cause, Cause::h20_table_changed) << later;
  }
}

TEST(TableInUse, H20_AFlippedBitStopsThePullInTheTickThatUsesIt) {
  Armed a;
  a.pull_to_main();
  flip_bits_of_b(a.c);
  Commands out = a.run(1);
  for (int tick = 1; tick < 4 && a.c.core().state == State::main_pull; ++tick) {
    EXPECT_FALSE(a.c.force().b.valid);  // nothing is read off it
    out = a.run(1);
  }
  EXPECT_EQ(a.c.core().state, State::stopped);
  EXPECT_EQ(a.c.core().cause, Cause::h20_table_changed);
  EXPECT_FALSE(out.motor || out.advance_valve || out.shut_off_open);
  EXPECT_TRUE(a.c.core().latched);
  EXPECT_EQ(a.c.core().allow, seat_it | lower_it);
}

TEST(TableInUse, H20_TheCheckSumOverTheTableStopsThePullInOneTick) {
  Armed a;
  a.pull_to_main();
  a.run(1, true);
  EXPECT_EQ(a.c.core().state, State::stopped);
  EXPECT_EQ(a.c.core().cause, Cause::h20_table_changed);
}

// H06: a channel that is off at rest by more than half a percent of its span (common practice) is not pulled
// with. The noise of the toy is 0.1 % of span a sample, 0.007 % on the mean of 200.
TEST(TableInUse, H06_AChannelThatIsNotZeroAtRestBarsArming) {
  for (const double off : {-0.006, -0.0045, 0.0, 0.0045, 0.006}) {
    const bool bad = std::abs(off) > 0.005;
    Armed a;
    a.off_a = static_cast<int>(off * 43'690);  // counts of the span of 16 mA
    a.run(1500);
    EXPECT_EQ(a.confirm(), bad ? Refusal::zero_a : Refusal::none) << off;
    Armed b;
    b.toy.bias_b = off;
    b.run(1500);
    EXPECT_EQ(b.confirm(), bad ? Refusal::zero_b : Refusal::none) << off;
  }
}

TEST(TableInUse, H07_H18_SerialsAreLookedAtBeforeEachPull) {
  Armed a;
  a.run(1500);
  auto& live = const_cast<GaugeTable&>(a.c.table());  // NOLINT(cppcoreguidelines-pro-type-const-cast)
  live.sensor_a_serial = 99;
  EXPECT_EQ(a.confirm(), Refusal::table_serial);
}

TEST(TableInUse, H18_TheOriginIsLookedAtBeforeEachPull) {
  Armed a;
  a.run(1500);
  auto& live = const_cast<GaugeTable&>(a.c.table());  // NOLINT(cppcoreguidelines-pro-type-const-cast)
  live.origin = 1;
  EXPECT_EQ(a.confirm(), Refusal::table_origin);
}

TEST(TableInUse, WhatBarsTheTableIsSaidBeforeItsFiguresAreLookedAt) {
  for (const Refusal bar : {Refusal::table_withdrawn, Refusal::part_changed, Refusal::table_damaged,
                            Refusal::table_key_gone, Refusal::table_rolled_back}) {
    Armed a;
    a.run(1500);
    a.c.gates({.clock = Refusal::none, .table = bar});
    EXPECT_EQ(a.confirm(), bar);
  }
}

}  // namespace
}  // namespace strandproof::control
