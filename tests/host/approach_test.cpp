// The pressure of the last moving moment, and what bars a stop from being read, on a jack whose pressures are
// known in closed form (capture_rig.hpp).
#include "host-tool/capture/approach.hpp"

#include <gtest/gtest.h>

#include "tests/host/capture_rig.hpp"

namespace strandproof::host::test {
namespace {

using capture::Approach;
using capture::Motion;

struct OnRig : testing::Test {
  CaptureRig rig;
  Approach approach;
  void SetUp() override {
    rig.on_jack = [this](const capture::JackSample& s) { approach.add(s); };
    rig.wait(100);
  }
};

// Whatever the valve needs to shut: the force goes on rising by 42 N in 20 ms, and the pressure that is found
// is that of the force that is held. Without the crossing of the two lines, 0.6 % of friction would be
// missing after a second already.
TEST_F(OnRig, ThePressureIsThatOfTheMovingRamAtTheForceThatIsHeld) {
  for (const std::uint64_t valve_ms : {0U, 5U, 20U, 40U}) {
    for (const double to : {7'500.0, 30'000.0, 150'000.0}) {
      rig.valve_ms = valve_ms;
      rig.down(0.0);
      rig.up(to);
      rig.wait(1'000);
      ASSERT_TRUE(approach.stop()) << approach.why();
      EXPECT_EQ(approach.stop()->from, Motion::up);
      const double held = CaptureRig::moving_mbar(rig.force_n());
      EXPECT_NEAR(approach.stop()->pressure_mbar[0], held, 0.0005 * held)
          << valve_ms << " ms, " << to << " N";
      EXPECT_NEAR(approach.stop()->pressure_mbar[1], 0.998 * held, 0.0005 * held);
      EXPECT_LT(rig.sample().pressure_mbar[0], 0.995 * held) << "at rest it has fallen";
      EXPECT_NEAR(approach.stop()->oil_c, 21.0, 1e-9);
    }
  }
}

TEST_F(OnRig, ComingDownThePressureIsThatOfTheLoweringRam) {
  rig.up(150'000.0);
  rig.down(60'000.0);
  rig.wait(1'000);
  ASSERT_TRUE(approach.stop()) << approach.why();
  EXPECT_EQ(approach.stop()->from, Motion::down);
  const double held = CaptureRig::lowering_mbar(rig.force_n());
  EXPECT_NEAR(approach.stop()->pressure_mbar[0], held, 0.001 * held);
}

TEST_F(OnRig, NothingIsReadBeforeTheRamHasRestedASecond) {
  rig.up(30'000.0);
  rig.wait(600);
  EXPECT_FALSE(approach.stop());
  EXPECT_TRUE(approach.why().empty());
  rig.wait(200);
  EXPECT_TRUE(approach.stop());
}

TEST_F(OnRig, AShortPushIsNotReadAndSaysWhatToDo) {
  rig.up(30'000.0);
  rig.creep(400);
  rig.wait(1'000);
  EXPECT_FALSE(approach.stop());
  EXPECT_NE(approach.why().find("creep for at least half a second"), std::string::npos) << approach.why();
  rig.creep(700);
  rig.wait(1'000);
  EXPECT_TRUE(approach.stop()) << approach.why();
}

TEST_F(OnRig, APressureThatFallsFasterThanFrictionLetsGoIsNotRead) {
  rig.leak_mbar_ms = 4.0;  // 4 bar a second, of 644
  rig.up(30'000.0);
  rig.wait(1'000);
  EXPECT_FALSE(approach.stop());
  EXPECT_NE(approach.why().find("leak"), std::string::npos) << approach.why();
}

TEST_F(OnRig, TravelCountsFromTheLastTurnAndAGapForgetsIt) {
  rig.up(30'000.0);
  EXPECT_GT(approach.travelled_um(), 14'000.0);
  rig.down(28'000.0);
  EXPECT_EQ(approach.last_move(), Motion::down);
  EXPECT_NEAR(approach.travelled_um(), 1'000.0, 300.0);
  rig.up(29'000.0);
  EXPECT_LT(approach.travelled_um(), 1'000.0);
  rig.skip(300);
  rig.wait(100);
  EXPECT_EQ(approach.last_move(), Motion::still) << "nobody knows what the ram did meanwhile";
  EXPECT_EQ(approach.travelled_um(), 0.0);
}

}  // namespace
}  // namespace strandproof::host::test
