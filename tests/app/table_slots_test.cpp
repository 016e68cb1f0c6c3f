// What the two slots may hold and what they tell: the origin of a table, the pulls made on it, its bytes.
#include <gtest/gtest.h>

#include "tests/app/shelf_bench.hpp"

namespace strandproof::app {
namespace {

using control::Refusal;
using link::Code;

// The runs of a simulated jack say nothing of a real one, whatever its serial numbers are.
TEST_F(Shelf, H18_ATableOfAnotherOriginIsRefusedAtLoadingAndAtPowerOn) {
  with_two_keys();
  for (const std::uint32_t origin : {0U, 2U, 3U, 4U}) {
    wire::GaugeTable t = table_message(1);
    t.set_origin(origin);
    EXPECT_EQ(life->load(signed_by(t)), Code::table_origin) << origin;
  }
  EXPECT_EQ(life->in_use(), 0U);
  ASSERT_EQ(life->load(1), Code::none);
  control::Jack real = bench_jack;
  real.origin = static_cast<std::uint32_t>(port::Origin::hardware);
  boot(real);
  EXPECT_EQ(life->in_use(), 0U) << "its flash came from a simulated jack";
  EXPECT_EQ(life->shelf.bar(), Refusal::table_origin);
  EXPECT_EQ(life->load(2), Code::table_origin);
  wire::GaugeTable measured = table_message(3);
  measured.set_origin(3);
  EXPECT_EQ(life->load(signed_by(measured)), Code::none);
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
}

TEST_F(Shelf, PullsAreToldOfBothSlotsWhicheverIsActive) {
  with_two_keys();
  const auto pulls = [&] { return std::pair{life->tables().slot_a.pulls, life->tables().slot_b.pulls}; };
  const auto pull = [&](unsigned times) {
    for (unsigned n = 0; n < times; ++n) {
      life->shelf.pull_begun();
    }
  };
  ASSERT_EQ(life->load(1), Code::none);
  pull(3);
  ASSERT_EQ(life->load(2), Code::none);
  EXPECT_EQ(pulls(), (std::pair{3U, 0U})) << "the idle slot keeps its count";
  pull(2);
  boot();
  EXPECT_EQ(pulls(), (std::pair{3U, 2U}));
  ASSERT_EQ(life->load(3), Code::none);
  ASSERT_EQ(life->undo(3, 2), Code::none);
  pull(1);
  EXPECT_EQ(pulls(), (std::pair{0U, 3U})) << "none on the one that was undone, one more on the other";
  ASSERT_EQ(life->load(4), Code::none);
  pull(5);
  boot();
  EXPECT_EQ(pulls(), (std::pair{5U, 3U}));
}

TEST_F(Shelf, ReadsOfASlotSayWhatIsNotThere) {
  strandproof_wire_TableBytes b = strandproof_wire_TableBytes_init_zero;
  EXPECT_EQ(life->shelf.bytes({.slot = 1, .index = 0}, b), Code::no_such_slot);
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  EXPECT_EQ(life->shelf.bytes({.slot = 0, .index = 0}, b), Code::no_such_slot);
  EXPECT_EQ(life->shelf.bytes({.slot = 3, .index = 0}, b), Code::no_such_slot);
  EXPECT_EQ(life->shelf.bytes({.slot = 1, .index = 6}, b), Code::malformed);
  ASSERT_EQ(life->shelf.bytes({.slot = 1, .index = 0}, b), Code::none);
  const SignedTable t = signed_by(table_message(1));
  EXPECT_TRUE(std::equal(t.signature.begin(), t.signature.end(), b.signature.bytes));
}

}  // namespace
}  // namespace strandproof::app
