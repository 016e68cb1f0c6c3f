// Session numbers, frame numbers and the counter of sealed messages at their wraps (H35): what was recorded
// before the wrap stays refused after it.
#include "tests/link/forge.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;

// The session number is made of the lower half of the boot counter: 65,536 boots later it comes again.
TEST_F(Hostile, H35_ASessionNumberThatComesAgainIsStillAnotherSession) {
  jack.session.start(7, {.host_id = host.keys.host_id, .key = proto::seal_key(host.keys.key)});
  host.identify();
  const wire::Sealed old = host.sealed(FrameType::clock_set, clock_body(5));
  const std::uint32_t old_session = host.session;
  jack.session.start(7 + 0x10000, {.host_id = host.keys.host_id, .key = proto::seal_key(host.keys.key)});
  host.identify();
  ASSERT_EQ(host.session, old_session) << "else this shows nothing";
  EXPECT_EQ(host.ask(old), Code::tag_wrong);
  EXPECT_TRUE(jack.handler.calls.empty());
  EXPECT_EQ(host.set_clock(6), Code::none);
}

TEST_F(Hostile, H35_NoncesDifferWhereTheBootCounterWraps) {
  std::vector<std::string> seen;
  for (const std::uint32_t boot : {0xFFFEU, 0xFFFFU, 0x10000U, 0x10001U, 0xFFFFFFFEU, 0xFFFFFFFFU, 0U, 1U}) {
    jack.session.start(boot, {});
    for (int i = 0; i < 2; ++i) {
      host.identify();
      EXPECT_EQ(std::count(seen.begin(), seen.end(), host.identity.nonce()), 0) << boot;
      seen.push_back(host.identity.nonce());
    }
  }
}

// A counter that has come to its end takes nothing more, until the host asks for a new session.
TEST_F(Hostile, H35_TheSealedCounterEndsAndDoesNotWrap) {
  host.counter = UINT32_MAX - 2;
  EXPECT_EQ(host.set_clock(5), Code::none);
  EXPECT_EQ(host.set_clock(6), Code::none);
  EXPECT_EQ(host.counter, UINT32_MAX);
  EXPECT_EQ(host.set_clock(7), Code::counter_old);
  EXPECT_EQ(host.set_clock(8), Code::counter_old);
  host.identify();
  EXPECT_EQ(host.set_clock(9), Code::none);
  EXPECT_EQ(jack.handler.calls, (std::vector<std::string>{"clock 5", "clock 6", "clock 9"}));
}

// Frames are numbered for the reader's sake alone: none is refused where the number wraps.
TEST_F(Hostile, H35_FrameNumbersMayWrap) {
  host.sequence = UINT32_MAX - 2;
  for (std::uint64_t i = 1; i <= 6; ++i) {
    EXPECT_EQ(host.set_clock(i), Code::none) << i;
  }
}

}  // namespace
}  // namespace strandproof::link
