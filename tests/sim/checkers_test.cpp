// Each check shown failing: brains that do what a controller must never do, on the real plant.
#include "sim/checkers/checkers.hpp"

#include <gtest/gtest.h>

#include <functional>

#include "sim/bench/machine.hpp"

namespace strandproof::sim {
namespace {

using port::Output;

constexpr port::OutputBits pulling =
    static_cast<port::OutputBits>(port::bit(Output::motor) | port::bit(Output::fast_stage) |
                                  port::bit(Output::advance_valve) | port::bit(Output::shut_off_valve));

// A brain that is one function of the sample.
class Sabotaged final : public Brain {
 public:
  explicit Sabotaged(std::function<Answer(const port::RawSample&)> act) : act_{std::move(act)} {}
  Answer tick(const port::RawSample& sample) override { return act_(sample); }
  void link_write(std::span<const std::uint8_t>) override {}
  std::vector<std::uint8_t> link_read() override { return {}; }
  std::vector<std::uint8_t> flash_image() override { return {}; }

 private:
  std::function<Answer(const port::RawSample&)> act_;
};

constexpr Limits limits{.force = 141e3,
                        .pressure = 40e6,
                        .seated = 129e3,
                        .force_window = 0.05,
                        .elongation_min = 0.34,
                        .elongation_max = 0.38};

struct Trial {
  Checkers checkers{limits};
  double force_n = 0.0;
};

Trial try_out(std::function<Answer(const port::RawSample&)> act, const std::vector<std::string>& lines,
              double seconds, std::vector<fault::Fault> faults = {}, Scenario s = {}) {
  SimBoard board(bed_plant(s), board_of(s, false), std::move(faults));
  Sabotaged brain(std::move(act));
  Bench bench(board, brain);
  Trial r;
  bench.watch(r.checkers);
  for (const std::string& line : lines) {
    bench.person().command(line);
  }
  for (int i = 0; i < static_cast<int>(seconds * 1000); ++i) {
    bench.step();
  }
  r.force_n = board.truth().F_strand_live;
  return r;
}

TEST(Checkers, AQuietBrainBreachesNothing) {
  Trial r = try_out([](const port::RawSample&) { return Answer{}; }, {}, 5.0);
  r.checkers.judge({verdict::none});
  EXPECT_TRUE(r.checkers.breaches().empty());
}

TEST(Checkers, ABrainThatNeverStopsBreachesForceAndPressure) {
  const auto pull_for_ever = [](const port::RawSample&) {
    return Answer{.outputs = pulling, .state = state::main_pull, .cause = 0, .load_state = load::on_jack};
  };
  Scenario s;
  s.pump.relief = 60e6;
  const Trial r = try_out(pull_for_ever, {"hold enable advance"}, 120.0, {}, s);
  EXPECT_TRUE(r.checkers.breached("over-force"));
  EXPECT_TRUE(r.checkers.breached("over-pressure"));
  EXPECT_FALSE(r.checkers.breached("motion-without-enable"));
}

TEST(Checkers, ABrainThatPullsWithoutEnablesIsSeen) {
  const auto pull_alone = [](const port::RawSample&) {
    return Answer{.outputs = pulling, .state = state::main_pull, .cause = 0, .load_state = load::on_jack};
  };
  EXPECT_TRUE(try_out(pull_alone, {}, 3.0).checkers.breached("motion-without-enable"));
  EXPECT_TRUE(try_out(pull_alone, {"hold enable-1 advance"}, 3.0).checkers.breached("motion-without-enable"));
}

TEST(Checkers, NoLoadShownUnderLoadIsSeen) {
  const auto lie = [](const port::RawSample&) {
    return Answer{.outputs = pulling, .state = state::main_pull, .cause = 0, .load_state = load::no_load};
  };
  EXPECT_TRUE(try_out(lie, {"hold enable advance"}, 25.0).checkers.breached("load-understated"));
}

TEST(Checkers, LoadOnChuckSaidOfALoadedJackIsFound) {
  const auto lie = [](const port::RawSample&) {
    return Answer{.outputs = pulling, .state = state::re_stroke, .cause = 0, .load_state = load::on_chuck};
  };
  EXPECT_TRUE(try_out(lie, {"hold enable advance"}, 25.0).checkers.breached("load-misplaced"));
  EXPECT_FALSE(try_out(lie, {"hold enable advance"}, 5.0).checkers.breached("load-misplaced")) << "slack";
}

TEST(Checkers, ClaimsAreHeldAgainstTheTruth) {
  const auto pull_on = [](const port::RawSample&) {
    return Answer{.outputs = pulling, .state = state::main_pull, .cause = 0, .load_state = load::on_jack};
  };
  Trial slack = try_out(pull_on, {"hold enable advance"}, 5.0);
  slack.checkers.judge({verdict::within_limits});
  EXPECT_TRUE(slack.checkers.breached("force-called-good"));
  EXPECT_TRUE(slack.checkers.breached("elongation-called-good"));
  EXPECT_FALSE(slack.checkers.breached("broken-called-good"));

  Trial broken = try_out(pull_on, {"hold enable advance"}, 25.0,
                         {{fault::find("strand-break"), {fault::By::force, 20e3}}});
  broken.checkers.judge({verdict::within_limits});
  EXPECT_TRUE(broken.checkers.breached("broken-called-good"));

  Trial honest = try_out(pull_on, {"hold enable advance"}, 5.0);
  honest.checkers.judge({verdict::lowered});
  EXPECT_TRUE(honest.checkers.breaches().empty());
}

TEST(Checkers, FlashRulesAreCounted) {
  Checkers checkers(limits);
  checkers.flash_violations(0);
  EXPECT_TRUE(checkers.breaches().empty());
  checkers.flash_violations(2);
  EXPECT_TRUE(checkers.breached("flash-rule"));
}

// The board's own safety: a brain that falls silent loses its outputs by the lease, and the emergency stop
// acts in hardware whatever the brain wants.
TEST(Board, ASilentBrainLosesItsOutputs) {
  Scenario s;
  SimBoard board(bed_plant(s), board_of(s, false), {});
  static_cast<void>(board.sample({}));
  board.advance(pulling);
  EXPECT_EQ(board.driven(), pulling);
  for (int i = 0; i < 5; ++i) {
    static_cast<void>(board.sample({}));
    board.advance(std::nullopt);
  }
  EXPECT_EQ(board.driven() & port::bit(Output::advance_valve), 0) << "valves within 5 ms";
  for (int i = 0; i < 15; ++i) {
    static_cast<void>(board.sample({}));
    board.advance(std::nullopt);
  }
  EXPECT_EQ(board.driven(), 0) << "motor within 20 ms";
}

TEST(Board, TheEmergencyStopActsWithoutTheController) {
  Scenario s;
  SimBoard board(bed_plant(s), board_of(s, false),
                 {{fault::find("emergency-stop"), {fault::By::time, 0.010}}});
  for (int i = 0; i < 10; ++i) {
    static_cast<void>(board.sample({}));
    board.advance(pulling);
    EXPECT_EQ(board.driven(), pulling);
  }
  static_cast<void>(board.sample({}));
  board.advance(pulling);
  EXPECT_EQ(board.driven(), 0);
}

// A slow clock leaves out its share of the ticks, spread over them.
TEST(BenchFaults, ASlowClockMissesItsShare) {
  for (const double share : {0.02, 0.25, 0.7}) {
    int worked = 0;
    (void)try_out([&](const port::RawSample&) { return ++worked, Answer{}; }, {}, 2.0,
                  {{fault::find("ticks-slow"), {fault::By::time, 1.0}, 1e9, share}});
    EXPECT_NEAR(worked, 1000.0 + 1000.0 * (1.0 - share), 2.0) << share;
  }
}

}  // namespace
}  // namespace strandproof::sim
