#include "sim/campaign/distribution.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "sim/bench/unit_text.hpp"
#include "sim/board/noise.hpp"
#include "tests/campaign/support.hpp"

namespace strandproof::sim {
namespace {

double newton(std::string_view text) {
  return parse_quantity(text, Dimension::force);
}

Distribution parsed(std::string_view text) {
  return parse_distribution(text, newton);
}

TEST(Distribution, TakesItsUnits) {
  EXPECT_EQ(parsed("uniform 20 kN to 120 kN").values, (std::vector<double>{20e3, 120e3}));
  EXPECT_EQ(parsed("normal 50 kN sd 500 N").values, (std::vector<double>{50e3, 500.0}));
  EXPECT_EQ(parsed("one of 1 kN, 3 kN").values, (std::vector<double>{1e3, 3e3}));
  EXPECT_EQ(parse_steps("100 kN to 130 kN in 4", newton), (std::vector<double>{100e3, 110e3, 120e3, 130e3}));
}

// Closed forms over a fine grid of fractions: mean and standard deviation of a uniform are (a + b)/2 and
// (b - a)/sqrt(12); of a normal its own; 2.6998e-3 of a normal lie beyond three deviations (Abramowitz and
// Stegun, table 26.1).
TEST(Distribution, HasTheMomentsOfItsShape) {
  constexpr int n = 200'000;
  const auto moments = [](const Distribution& d) {
    double sum = 0.0;
    double squares = 0.0;
    int far = 0;
    for (int i = 0; i < n; ++i) {
      const double x = d.at((i + 0.5) / n);
      sum += x;
      squares += x * x;
      far += std::abs(x - 50e3) > 3.0 * 500.0 ? 1 : 0;
    }
    const double mean = sum / n;
    return std::tuple{mean, std::sqrt(squares / n - mean * mean), static_cast<double>(far) / n};
  };
  const auto [mean, deviation, far] = moments(parsed("uniform 20 kN to 120 kN"));
  EXPECT_NEAR(mean, 70e3, 1e-6 * 70e3);
  EXPECT_NEAR(deviation, 100e3 / std::sqrt(12.0), 1e-5 * 30e3);
  const auto [normal_mean, normal_deviation, beyond] = moments(parsed("normal 50 kN sd 500 N"));
  EXPECT_NEAR(normal_mean, 50e3, 0.05);
  EXPECT_NEAR(normal_deviation, 500.0, 0.1);
  EXPECT_NEAR(beyond, 2.6998e-3, 2e-5);
}

TEST(Distribution, EachOfAListIsAsLikely) {
  const auto d = parsed("one of 1 kN, 2 kN, 5 kN");
  int last = 0;
  for (int i = 0; i < 3000; ++i) {
    last += d.at((i + 0.5) / 3000.0) == 5e3 ? 1 : 0;
  }
  EXPECT_EQ(last, 1000);
}

TEST(Distribution, SaysWhatIsWrong) {
  const auto said = [](const char* text) { return test::problem_of([&] { (void)parsed(text); }); };
  test::expect_part(said("about 3 kN"), "is no distribution; write");
  test::expect_part(said("uniform 3 kN"), "has no \"to\"");
  test::expect_part(said("uniform 3 kN to 2 kN"), "does not rise");
  test::expect_part(said("uniform 3 to 4 kN"), "unit");
  test::expect_part(said("normal 3 kN sd 0 N"), "has no spread");
  test::expect_part(said("one of 3 kN,"), "number");
  const auto steps = [](const char* text) {
    return test::problem_of([&] { (void)parse_steps(text, newton); });
  };
  test::expect_part(steps("1 kN to 2 kN"), "is no sweep");
  test::expect_part(steps("1 kN to 2 kN in 1"), "from 2 to 1000");
  test::expect_part(steps("1 kN to 2 kN in 2.5"), "from 2 to 1000");
}

}  // namespace
}  // namespace strandproof::sim
