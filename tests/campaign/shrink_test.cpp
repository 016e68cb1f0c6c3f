// What is left of a pull that was shrunk is what made it end so.
#include "sim/campaign/shrink.hpp"

#include <gmock/gmock.h>

#include "tests/campaign/support.hpp"

namespace strandproof::sim {
namespace {

using testing::ElementsAre;

std::uint32_t first_breach(const Campaign& c) {
  for (std::uint32_t i = 0;; ++i) {
    if (!test::toy(drawn(c, i)).breach.empty()) {
      return i;
    }
  }
}

// The toy breaches by a late strand break and a slow valve together; air, length and the person do not
// matter.
TEST(Shrink, LeavesTheTwoThatMatter) {
  const Campaign c = parse_campaign(test::small, "small.toml");
  const auto pull = first_breach(c);
  const Shrunk r = shrink(c, pull, test::toy);
  EXPECT_THAT(r.kept, ElementsAre("fault strand-break", "valves.delay"));
  EXPECT_EQ(r.outcome.breach, "force");
  EXPECT_EQ(r.outcome.pull, pull);
  Scenario again = drawn(c, pull);
  for (const auto& part : r.dropped) {
    drop_part(c, again, part);
  }
  EXPECT_TRUE(end_alike(test::toy(again), r.outcome));
}

TEST(Shrink, OfAHealthyPullNothingIsLeft) {
  const Campaign c = parse_campaign("[vary]\nvalves.delay = \"uniform 5 ms to 40 ms\"\n", "c.toml");
  EXPECT_THAT(shrink(c, 0, test::toy).kept, ElementsAre());
}

TEST(Shrink, PartsAreNamedAndDroppedByName) {
  const Campaign c = parse_campaign(test::small, "small.toml");
  const auto pull = first_breach(c);
  Scenario s = drawn(c, pull);
  test::expect_part(part_text(s, "fault strand-break"), "fault strand-break at 1");
  test::expect_part(part_text(s, "valves.delay"), "valves.delay = 0.03");
  test::expect_part(test::problem_of([&] { drop_part(c, s, "valves.delai"); }),
                    "did you mean \"valves.delay\"?");
  drop_part(c, s, "fault strand-break");
  EXPECT_TRUE(s.faults.empty());
  drop_part(c, s, "valves.delay");
  EXPECT_EQ(s.valves.delay, c.base.valves.delay);
}

}  // namespace
}  // namespace strandproof::sim
