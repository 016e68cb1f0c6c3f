// Controller and host on the same stored integers: a random table goes the way of a real one (the host's
// message, its bytes, the firmware's decoder into its columns), then both look up the same pressures. Both
// are asked for the same thing in different code and another precision: float and binary search there, double
// and a walk here. Issue 5: 1e-6 relative, both branches, both channels. A third, independent value is the
// chord's closed form on integers.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <random>
#include <string>
#include <vector>

#include "firmware/app/from_wire.hpp"
#include "host-tool/gauge/points.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof {
namespace {

using host::gauge::Point;
using Columns = std::array<std::vector<Point>, 4>;  // A increasing, A decreasing, B increasing, B decreasing

constexpr double allowed = 1e-6;
constexpr std::uint32_t highest_mbar = 700'000;  // 70 MPa, the usual span of a pressure sensor

// 5 to 24 strictly rising points of a jack of 20 to 80 cm2, the first between 0.5 and 5 % of the span.
std::vector<Point> random_column(std::mt19937_64& random) {
  const auto count = std::uniform_int_distribution<std::size_t>(5, 24)(random);
  const double newton_per_mbar = std::uniform_real_distribution<double>(0.2, 0.8)(random);
  std::vector<Point> points{{std::uniform_int_distribution<std::uint32_t>(3'500, 35'000)(random), 0}};
  points[0].force_n = static_cast<std::uint32_t>(newton_per_mbar * points[0].pressure_mbar);
  const std::uint32_t widest = (highest_mbar - points[0].pressure_mbar) / static_cast<std::uint32_t>(count);
  std::uniform_int_distribution<std::uint32_t> step(1, widest);
  std::uniform_real_distribution<double> bend(0.95, 1.05);
  while (points.size() < count) {
    const std::uint32_t wide = step(random);
    const double rise = newton_per_mbar * bend(random) * wide;
    points.push_back(
        {points.back().pressure_mbar + wide, points.back().force_n + 1U + static_cast<std::uint32_t>(rise)});
  }
  return points;
}

void fill(wire::GaugeColumn* to, const std::vector<Point>& points) {
  for (const Point& p : points) {
    to->add_pressure_mbar(p.pressure_mbar);
    to->add_force_n(p.force_n);
  }
}

control::GaugeTable through_the_wire(const Columns& columns) {
  wire::GaugeTable m;
  m.set_revision(1);
  m.set_due_s(1);
  fill(m.mutable_a_increasing(), columns[0]);
  fill(m.mutable_a_decreasing(), columns[1]);
  fill(m.mutable_b_increasing(), columns[2]);
  fill(m.mutable_b_decreasing(), columns[3]);
  const std::string bytes = m.SerializeAsString();
  strandproof_wire_GaugeTable decoded = strandproof_wire_GaugeTable_init_zero;
  control::GaugeTable table;
  EXPECT_TRUE(
      app::decode_table({reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()}, decoded));
  EXPECT_EQ(app::from_wire(decoded, table), control::Refusal::none);
  return table;
}

// The chord through the two points around a pressure, in integers as far as they go.
double chord(const std::vector<Point>& points, std::uint32_t mbar) {
  std::size_t i = 1;
  while (points[i].pressure_mbar < mbar) {
    ++i;
  }
  const auto wide = static_cast<std::int64_t>(points[i].pressure_mbar) - points[i - 1].pressure_mbar;
  const auto high = static_cast<std::int64_t>(points[i].force_n) - points[i - 1].force_n;
  const auto in = static_cast<std::int64_t>(mbar) - points[i - 1].pressure_mbar;
  return points[i - 1].force_n + static_cast<double>(high * in) / static_cast<double>(wide);
}

units::Pressure pressure(std::uint32_t mbar) {
  return units::Pressure::from_si(static_cast<float>(mbar) * 100.0F);
}

// The largest relative difference of the controller's force from the host's over pressures of one column.
double worst_of(const control::GaugeColumn& column, const std::vector<Point>& points,
                std::mt19937_64& random) {
  std::uniform_int_distribution<std::uint32_t> inside(points.front().pressure_mbar,
                                                      points.back().pressure_mbar);
  double worst = 0.0;
  std::vector<std::uint32_t> pressures;
  for (const Point& p : points) {
    pressures.push_back(p.pressure_mbar);  // on the points themselves both ends meet
  }
  for (int i = 0; i < 100; ++i) {
    pressures.push_back(inside(random));
  }
  for (const std::uint32_t mbar : pressures) {
    const auto host = host::gauge::interpolate(points, mbar);
    const control::Reading there = column.at(pressure(mbar));
    if (!host || !there.inside) {
      ADD_FAILURE() << mbar << " mbar is inside the column, but not to both";
      return 1.0;
    }
    EXPECT_NEAR(*host, chord(points, mbar), 1e-9 * *host);
    worst = std::max(worst, std::abs(static_cast<double>(there.force.si()) - *host) / *host);
  }
  return worst;
}

TEST(LookUp, ControllerAndHostAgreeOnTheSameIntegers) {
  std::mt19937_64 random(5);
  double worst = 0.0;
  int readings = 0;
  for (int i = 0; i < 500; ++i) {
    const Columns columns{random_column(random), random_column(random), random_column(random),
                          random_column(random)};
    const control::GaugeTable t = through_the_wire(columns);
    const std::array held{&t.a_increasing, &t.a_decreasing, &t.b_increasing, &t.b_decreasing};
    for (std::size_t c = 0; c < held.size(); ++c) {
      worst = std::max(worst, worst_of(*held[c], columns[c], random));
      readings += 100 + static_cast<int>(columns[c].size());
    }
  }
  EXPECT_LE(worst, allowed);
  std::printf("%d readings of 500 tables, largest relative difference %.2e\n", readings, worst);
}

TEST(LookUp, NeitherLooksBeyondTheLastPoints) {
  std::mt19937_64 random(6);
  for (int i = 0; i < 500; ++i) {
    const Columns columns{random_column(random), random_column(random), random_column(random),
                          random_column(random)};
    const control::GaugeTable t = through_the_wire(columns);
    const std::array held{&t.a_increasing, &t.a_decreasing, &t.b_increasing, &t.b_decreasing};
    for (std::size_t c = 0; c < held.size(); ++c) {
      for (const std::uint32_t mbar :
           {columns[c].front().pressure_mbar - 1U, columns[c].back().pressure_mbar + 1U}) {
        EXPECT_FALSE(held[c]->at(pressure(mbar)).inside) << mbar;
        EXPECT_FALSE(host::gauge::interpolate(columns[c], mbar)) << mbar;
      }
    }
  }
}

}  // namespace
}  // namespace strandproof
