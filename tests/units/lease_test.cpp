// The output lease: every bit falls to its safe value at exactly its longest hold, unaided, and not
// one millisecond earlier. H15 and H33 rest on it.
#include "firmware/port/lease.hpp"

#include <gtest/gtest.h>

namespace {

using strandproof::port::bit;
using strandproof::port::Output;
using strandproof::port::OutputBits;
using strandproof::port::OutputLease;

constexpr OutputBits everything = 0xFF;

TEST(OutputLease, NothingIsEnergisedBeforeTheFirstRenewal) {
  OutputLease lease;
  for (int ms = 0; ms < 1000; ++ms) {
    ASSERT_EQ(lease.drive(), 0) << "at " << ms << " ms";
  }
}

TEST(OutputLease, EachOutputFallsAtItsOwnLimit) {
  OutputLease lease;
  lease.renew(everything);
  for (unsigned ms = 0; ms < 700; ++ms) {
    const OutputBits driven = lease.drive();
    for (unsigned i = 0; i < 8; ++i) {
      const bool on = ((driven >> i) & 1U) != 0;
      ASSERT_EQ(on, ms < OutputLease::longest_hold[i]) << "output " << i << " at " << ms << " ms";
    }
  }
}

// What the design promises, apart from the table itself: motion ends within 5 ms of a lost
// controller, the motor within 20 ms (H33: outputs off at 20 ms).
TEST(OutputLease, LostControllerStopsMotionInFiveMilliseconds) {
  OutputLease lease;
  lease.renew(everything);
  OutputBits driven = 0;
  for (int ms = 0; ms <= 5; ++ms) {
    driven = lease.drive();
  }
  EXPECT_EQ(driven & (bit(Output::advance_valve) | bit(Output::lower_valve) | bit(Output::seat_valve) |
                      bit(Output::shut_off_valve)),
            0);
  for (int ms = 6; ms <= 20; ++ms) {
    driven = lease.drive();
  }
  EXPECT_EQ(driven & (bit(Output::motor) | bit(Output::fast_stage)), 0);
}

TEST(OutputLease, RenewedEachTickItHoldsAndFollows) {
  OutputLease lease;
  for (int ms = 0; ms < 100; ++ms) {
    lease.renew(bit(Output::motor));
    ASSERT_EQ(lease.drive(), bit(Output::motor));
  }
  lease.renew(0);
  EXPECT_EQ(lease.drive(), 0);
}

// An age counter that wraps would energise everything again 65 seconds after the controller died.
TEST(OutputLease, StaysSafeForEver) {
  OutputLease lease;
  lease.renew(everything);
  for (int ms = 0; ms < 500; ++ms) {
    (void)lease.drive();
  }
  for (int ms = 0; ms < 3 * 65536; ++ms) {
    ASSERT_EQ(lease.drive(), 0) << "after " << ms << " ms";
  }
}

}  // namespace
