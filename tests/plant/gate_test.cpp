// 1,000 random pulls against CVODE. The bounds are a tenth of what is asked for (median 0.001 %, worst 0.02
// %): the scheme keeps them, and an error that is small beside the bounds asked for still shows.
#include "tests/plant/gate.hpp"

#include <gtest/gtest.h>

namespace strandproof::plant {
namespace {

void expect_within(const Spread& s, const char* what) {
  EXPECT_LT(s.median, 1e-6) << what;
  EXPECT_LT(s.worst, 2e-5) << what << ", pull " << s.worst_pull;
}

void expect_through(unsigned pulls, std::uint64_t seed) {
  const GateResult r = run_gate(seed, pulls, 2);
  std::printf("%s", text_of(r).c_str());
  EXPECT_TRUE(r.unfinished.empty()) << r.unfinished.size() << ", first pull " << r.unfinished.front();
  expect_within(r.peak, "peak");
  expect_within(r.held, "held");
  expect_within(r.locked, "locked");
}

// A tenth of them, which the sabotages are shown to.
TEST(Gate, AHundredPullsAsCvodeHasThem) {
  expect_through(100, 26'112'026);
}

TEST(Gate, AThousandPullsAsCvodeHasThem) {
  expect_through(1000, 20'251'125);
}

}  // namespace
}  // namespace strandproof::plant
