// The guided capture against a rig in closed form: every reading that it accepts lies on the law of the rig,
// and each thing that spoils a reading is rejected with what to do.
#include "host-tool/capture/capture.hpp"

#include <gtest/gtest.h>

#include <memory>

#include "tests/host/capture_rig.hpp"

namespace strandproof::host::test {
namespace {

using capture::Capture;
using capture::Kind;
using capture::Motion;
using capture::Reading;
using capture::Settings;

// A person who does as told, and everything that was said.
struct Session {
  CaptureRig rig;
  std::unique_ptr<Capture> capture;
  std::vector<Reading> readings;
  std::vector<std::string> rejected, notes;
  bool typed;

  explicit Session(const Settings& settings, const std::vector<Reading>& done = {}) : typed{settings.typed} {
    capture = std::make_unique<Capture>(settings, done);
    rig.on_jack = [this](const capture::JackSample& s) {
      capture->jack(s);
      collect();
    };
    if (!typed) rig.on_cell = [this](double f) { capture->cell(f); };
    rig.wait(200);
  }
  void collect() {
    for (auto& event : capture->take()) {
      if (event.reading) readings.push_back(*event.reading);
      if (event.what == capture::Event::What::rejected) rejected.push_back(event.text);
      if (event.what == capture::Event::What::note) notes.push_back(event.text);
    }
  }
  // Does the next thing. Up and down stop 30 N past what was asked for, as a person does.
  void obey() {
    const auto now = capture->instruction();
    if (now.entries > 0) {
      capture->typed(std::round(rig.force_n()));
      collect();
    } else if (now.move == Motion::up) {
      rig.up(now.to_n + 30.0);
      rig.wait(2'500);
    } else if (now.move == Motion::down) {
      rig.down(now.to_n == 0 ? 0.0 : now.to_n + 30.0);
      rig.wait(2'500);
    } else {
      rig.wait(500);
    }
  }
  void obey_until(const std::function<bool()>& enough) {
    for (int i = 0; i < 4'000 && !enough(); ++i) obey();
    EXPECT_TRUE(enough()) << capture->instruction().text;
  }
  void until_readings(std::size_t count) {
    obey_until([&] { return readings.size() >= count || capture->done(); });
  }
  [[nodiscard]] const std::string& told() const { return capture->instruction().text; }
};

Settings three_points(bool typed) {
  return {.set_points_n = {30'000, 60'000, 90'000},
          .series = 2,
          .down_series = 1,
          .exercises = 3,
          .typed = typed};
}

void expect_on_the_law(const Reading& r) {
  const double law = r.step.kind == Kind::down ? CaptureRig::lowering_mbar(r.reference_n)
                                               : CaptureRig::moving_mbar(r.reference_n);
  EXPECT_NEAR(r.pressure_mbar[0], law, 0.001 * law + 0.5) << name(r.step);
  EXPECT_NEAR(r.reference_n, r.step.set_point_n, 1'500.0) << name(r.step);
}

bool any_has(const std::vector<std::string>& lines, const std::string& part) {
  return std::any_of(lines.begin(), lines.end(), [&](const auto& l) { return l.find(part) != l.npos; });
}

class BothWays : public testing::TestWithParam<bool> {};
INSTANTIATE_TEST_SUITE_P(Cell, BothWays, testing::Values(false, true),
                         [](const auto& way) { return way.param ? "Typed" : "OnItsLine"; });

TEST_P(BothWays, AWholeCaptureIsReadInItsOrderOnTheLawOfTheRig) {
  Session s(three_points(GetParam()));
  s.obey_until([&] { return s.capture->done(); });
  EXPECT_TRUE(s.rejected.empty()) << s.rejected.front();
  std::vector<capture::Step> read;
  for (const auto& r : s.readings) {
    read.push_back(r.step);
    expect_on_the_law(r);
  }
  auto wanted = capture::steps(three_points(GetParam()));
  wanted.erase(wanted.begin(), wanted.begin() + 3);  // the exercises
  EXPECT_EQ(read, wanted);
  EXPECT_EQ(read.size(), 12U) << "2 x (zero, 3 up, zero) and 2 down";
  EXPECT_EQ(s.capture->readings(), s.capture->readings_wanted());
  EXPECT_EQ(std::count(s.notes.begin(), s.notes.end(), "exercised"), 3);
}

TEST_P(BothWays, InterruptedAfterEveryReadingItGoesOnWithTheNext) {
  Session whole(three_points(GetParam()));
  whole.obey_until([&] { return whole.capture->done(); });
  for (std::size_t kept = 1; kept < whole.readings.size(); ++kept) {
    const std::vector<Reading> done(whole.readings.begin(),
                                    whole.readings.begin() + static_cast<std::ptrdiff_t>(kept));
    Session s(three_points(GetParam()), done);
    s.obey_until([&] { return s.capture->done(); });
    ASSERT_EQ(s.readings.size(), whole.readings.size() - kept) << "after " << kept;
    for (std::size_t i = 0; i < s.readings.size(); ++i) {
      EXPECT_EQ(s.readings[i].step, whole.readings[kept + i].step);
      expect_on_the_law(s.readings[i]);
    }
    EXPECT_EQ(std::count(s.notes.begin(), s.notes.end(), "exercised"), 1)
        << "once more after an interruption";
  }
}

TEST(Capture, PastTheBandIsRejectedAndTakenAgainFromBelowOnly) {
  Session s(three_points(false));
  s.until_readings(1);
  s.rig.up(32'000.0);  // the band is 1.5 % of 90 kN: 1,350 N
  s.rig.wait(3'000);
  ASSERT_EQ(s.rejected.size(), 1U);
  EXPECT_NE(s.rejected[0].find("past the band"), std::string::npos);
  EXPECT_NE(s.rejected[0].find("lower to 25.95 kN or less, then come up to 30.00 kN again"),
            std::string::npos)
      << s.rejected[0];
  s.rig.down(30'000.0);
  s.rig.wait(3'000);
  EXPECT_EQ(s.readings.size(), 1U) << "came from above";
  EXPECT_EQ(s.capture->instruction().move, Motion::down);
  s.until_readings(2);
  EXPECT_EQ(s.readings[1].step.set_point_n, 30'000);
  expect_on_the_law(s.readings[1]);
}

TEST(Capture, JustInsideTheBandIsReadAndJustOutsideIsNot) {
  for (const double beyond : {-60.0, 30.0}) {
    Session s(three_points(false));
    s.until_readings(1);
    s.rig.up(31'350.0 + beyond - 21.0);  // 21 N more while the valve shuts
    s.rig.wait(3'000);
    EXPECT_EQ(s.readings.size(), beyond < 0.0 ? 2U : 1U) << beyond;
    EXPECT_EQ(s.rejected.size(), beyond < 0.0 ? 0U : 1U) << beyond;
  }
}

TEST(Capture, TypedForceThatWasComeBackToIsRejected) {
  Session s(three_points(true));
  s.until_readings(1);
  s.rig.up(32'500.0);
  s.rig.down(30'000.0);
  s.rig.wait(2'000);
  ASSERT_EQ(s.rejected.size(), 1U);
  EXPECT_NE(s.rejected[0].find("the ram came back to it"), std::string::npos) << s.rejected[0];
  EXPECT_EQ(s.capture->instruction().entries, 0);
  s.until_readings(2);
  expect_on_the_law(s.readings[1]);
}

TEST(Capture, TypedEntriesThatDifferAreAskedAgainTwice) {
  Session s(three_points(true));
  s.until_readings(1);
  s.rig.up(30'000.0);
  s.rig.wait(1'500);
  EXPECT_EQ(s.capture->instruction().entries, 2);
  s.capture->typed(30'040.0);
  EXPECT_EQ(s.capture->instruction().entries, 1);
  s.capture->typed(30'400.0);
  s.collect();
  EXPECT_TRUE(any_has(s.notes, "30040 N and 30400 N differ"));
  EXPECT_EQ(s.capture->instruction().entries, 2);
  EXPECT_EQ(s.readings.size(), 1U);
  s.capture->typed(30'040.0);
  s.capture->typed(30'040.0);
  s.collect();
  ASSERT_EQ(s.readings.size(), 2U);
  EXPECT_EQ(s.readings[1].reference_n, 30'040.0);
}

TEST(Capture, TypedOutsideTheBandIsRejectedAndBelowItGoesOn) {
  Session s(three_points(true));
  s.until_readings(1);
  s.rig.up(25'000.0);
  s.rig.wait(1'500);
  s.capture->typed(25'000.0);
  s.capture->typed(25'000.0);
  EXPECT_EQ(s.capture->instruction().move, Motion::up) << s.told();
  s.rig.up(30'000.0);
  s.rig.wait(1'500);
  s.capture->typed(30'040'000.0);  // N for kN
  s.capture->typed(30'040'000.0);
  s.collect();
  ASSERT_EQ(s.rejected.size(), 1U);
  EXPECT_EQ(s.readings.size(), 1U);
}

TEST(Capture, AValueTypedBeforeTheRamMovedOnIsForgotten) {
  Session s(three_points(true));
  s.until_readings(1);
  s.rig.up(29'800.0);
  s.rig.wait(1'500);
  s.capture->typed(29'841.0);
  s.rig.creep(700);
  s.rig.wait(1'500);
  EXPECT_EQ(s.capture->instruction().entries, 2);
  EXPECT_TRUE(any_has(s.notes, "the first one is forgotten"));
}

TEST(Capture, ACellThatDoesNotStandStillIsNotRead) {
  Session s(three_points(false));
  s.until_readings(1);
  s.rig.cell_walk_n_ms = 0.06;  // 54 N in the ten values' 0.9 s, where 45 N is the limit
  s.rig.up(30'000.0);
  s.rig.wait(15'000);
  EXPECT_EQ(s.readings.size(), 1U);
  EXPECT_TRUE(s.rejected.empty());
  EXPECT_NE(s.told().find("when the cell stands still"), std::string::npos) << s.told();
  s.rig.wait(6'000);
  ASSERT_EQ(s.rejected.size(), 1U);
  EXPECT_NE(s.rejected[0].find("does not stand still"), std::string::npos) << s.rejected[0];
  s.rig.cell_walk_n_ms = 0.0;
  s.until_readings(2);
  expect_on_the_law(s.readings[1]);
}

TEST(Capture, AShortPushToTheSetPointIsRejected) {
  Session s(three_points(false));
  s.until_readings(1);
  s.rig.up(29'000.0);
  s.rig.wait(2'500);
  EXPECT_TRUE(s.rejected.empty()) << "inside the band, and read";
  ASSERT_EQ(s.readings.size(), 2U);
  s.rig.up(58'000.0);  // below the band of 60 kN
  s.rig.wait(2'500);
  s.rig.creep(350);
  s.rig.wait(3'000);
  ASSERT_EQ(s.rejected.size(), 1U);
  EXPECT_NE(s.rejected[0].find("moved too shortly"), std::string::npos) << s.rejected[0];
}

TEST(Capture, ASilentCellIsWaitedForAndNothingIsRead) {
  Session s(three_points(false));
  s.until_readings(1);
  s.rig.up(30'000.0);
  s.capture->cell_lost();
  s.rig.on_cell = nullptr;
  s.rig.wait(5'000);
  EXPECT_EQ(s.readings.size(), 1U);
  EXPECT_NE(s.told().find("silent"), std::string::npos) << s.told();
  s.rig.on_cell = [&](double f) { s.capture->cell(f); };
  s.rig.wait(2'500);
  EXPECT_EQ(s.readings.size(), 2U) << "the ram has not moved: the stop is still that of the moving ram";
}

TEST(Capture, ALostLineBeginsTheApproachAgain) {
  Session s(three_points(false));
  s.until_readings(1);
  s.rig.up(30'000.0);
  s.capture->jack_lost();
  EXPECT_NE(s.told().find("the line to the jack is lost"), std::string::npos);
  s.rig.skip(5'000);
  s.rig.wait(3'000);
  EXPECT_EQ(s.readings.size(), 1U) << "nobody knows how the ram came here";
  EXPECT_EQ(s.capture->instruction().move, Motion::up);
  s.rig.down(25'000.0);
  s.until_readings(2);
  expect_on_the_law(s.readings[1]);
}

TEST(Capture, TheDecreasingRunBeginsAtTheLargestForceAfterALostLine) {
  Session s(three_points(false));
  s.until_readings(9);  // series 1: 5; zero, three up of series 2
  s.capture->jack_lost();
  const auto heard = std::exchange(s.rig.on_jack, nullptr);
  s.rig.down(70'000.0);  // while nobody was listening
  s.rig.on_jack = heard;
  s.rig.wait(500);
  EXPECT_EQ(s.capture->instruction().move, Motion::up) << s.told();
  EXPECT_EQ(s.capture->instruction().to_n, 90'000);
  s.until_readings(10);
  EXPECT_EQ(s.readings[9].step.kind, Kind::down);
  expect_on_the_law(s.readings[9]);
}

TEST(Capture, OutsideTheRigModeItSaysHowToGetThereAndReadsNothing) {
  Session s(three_points(false));
  s.until_readings(1);
  s.rig.state = 0;
  s.rig.up(30'000.0);
  s.rig.wait(3'000);
  EXPECT_EQ(s.readings.size(), 1U);
  EXPECT_NE(s.told().find("the jack is in IDLE: choose RIG at the pendant"), std::string::npos) << s.told();
}

TEST(Capture, AZeroIsReadHalfAMinuteAfterTheRamCameToRest) {
  Session s(three_points(false));
  s.obey_until([&] { return std::count(s.notes.begin(), s.notes.end(), "exercised") == 3; });
  s.rig.wait(26'000);
  EXPECT_TRUE(s.readings.empty());
  EXPECT_GT(s.capture->wait_s(), 0);
  s.rig.wait(4'500);
  ASSERT_EQ(s.readings.size(), 1U);
  EXPECT_EQ(s.readings[0].step.kind, Kind::zero);
}

TEST(Capture, ACellWhoseZeroIsOffIsNotTared) {
  Session s(three_points(true));
  s.obey_until([&] { return s.capture->instruction().text.find("zero: type") == 0; });
  s.capture->typed(460.0);  // 0.5 % of 90 kN is 450 N
  s.capture->typed(460.0);
  s.collect();
  ASSERT_EQ(s.rejected.size(), 1U);
  EXPECT_NE(s.rejected[0].find("do not tare"), std::string::npos);
  s.rig.wait(100);
  s.capture->typed(440.0);
  s.capture->typed(440.0);
  s.collect();
  ASSERT_EQ(s.readings.size(), 1U);
  EXPECT_EQ(s.readings[0].reference_n, 440.0) << "written as it was read";
}

TEST(Capture, AnExerciseMustReachTheLargestForce) {
  Session s(three_points(false));
  s.rig.up(86'000.0);  // 98 % is 88.2 kN
  s.rig.wait(2'000);
  s.rig.down(0.0);
  s.rig.wait(2'000);
  EXPECT_TRUE(s.notes.empty());
  EXPECT_EQ(s.capture->instruction().move, Motion::up);
  s.rig.up(89'000.0);
  s.rig.down(0.0);
  s.rig.wait(2'000);
  EXPECT_EQ(s.notes, std::vector<std::string>{"exercised"});
}

}  // namespace
}  // namespace strandproof::host::test
