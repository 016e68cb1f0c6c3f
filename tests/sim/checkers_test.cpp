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
  Checkers checkers;
  double force_n = 0.0, stroke_m = 0.0;
};

Trial try_out(std::function<Answer(const port::RawSample&)> act, const std::vector<std::string>& lines,
              double seconds, std::vector<fault::Fault> faults = {}, Scenario s = {},
              const Limits& held_to = limits) {
  SimBoard board(bed_plant(s), board_of(s, false), std::move(faults));
  Sabotaged brain(std::move(act));
  Bench bench(board, brain);
  Trial r{.checkers = Checkers(held_to)};
  bench.watch(r.checkers);
  for (const std::string& line : lines) {
    bench.person().command(line);
  }
  for (int i = 0; i < static_cast<int>(seconds * 1000); ++i) {
    bench.step();
  }
  r.force_n = board.truth().F_strand_live;
  r.stroke_m = board.truth().x_ram;
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

Limits limits_with_air(const Scenario& s) {
  Limits l = limits;
  l.air = s.oil.air;
  l.cap_dead = s.oil.dead_volume / s.jack.area;
  l.rod_over_cap = s.jack.rod_area / s.jack.area;
  return l;
}

// The ram of a jack without load goes out, comes back for some seconds and is stopped there, with the enables
// let go: with 3 % of air in the oil it swings out again, by no more than the air explains.
TEST(Checkers, WhatTheAirMovesIsNoMotionOfTheJack) {
  constexpr std::uint32_t out = 36'000, back = 50'000;  // ticks
  constexpr auto lowering = static_cast<port::OutputBits>(
      port::bit(Output::motor) | port::bit(Output::lower_valve) | port::bit(Output::shut_off_valve));
  const auto until_50_s_then_from = [](std::uint32_t again) {
    return [again](const port::RawSample& s) {
      const bool advances = s.tick < out || s.tick >= again;
      return Answer{.outputs = advances        ? pulling
                               : s.tick < back ? lowering
                                               : port::OutputBits{0},
                    .state = state::lowering,
                    .cause = 0,
                    .load_state = load::on_jack};
    };
  };
  const std::vector<std::string> hands{"hold enable lower", "wait 50 s", "release all"};
  Scenario s;
  s.oil.air = 0.03;
  s.strand.slack = 0.5;  // nothing pulls
  const Limits with_air = limits_with_air(s);
  const std::string check = "motion-without-enable";
  const double stopped_m = try_out(until_50_s_then_from(UINT32_MAX), hands, 50.13, {}, s, with_air).stroke_m;
  const Trial rests = try_out(until_50_s_then_from(UINT32_MAX), hands, 58.0, {}, s, with_air);
  EXPECT_FALSE(rests.checkers.breached(check));
  EXPECT_GT(rests.stroke_m, stopped_m + 1e-3);  // the air has moved it, so that the bound was needed
  EXPECT_TRUE(try_out(until_50_s_then_from(UINT32_MAX), hands, 58.0, {}, s).checkers.breached(check));
  // A jack that goes on by itself is found with all the air in the world.
  EXPECT_TRUE(try_out(until_50_s_then_from(53'000), hands, 58.0, {}, s, with_air).checkers.breached(check));
}

// Under load the pressure stands whatever the retract side does, and the air explains nothing.
TEST(Checkers, UnderLoadTheAirExplainsNothing) {
  Scenario s;
  s.oil.air = 0.03;
  const Limits with_air = limits_with_air(s);
  const auto pull_on = [](const port::RawSample& sample) {
    const bool by_itself = sample.tick >= 22'000 && sample.tick < 22'300;
    return Answer{.outputs = sample.tick < 20'000 || by_itself ? pulling : port::OutputBits{0},
                  .state = state::main_pull,
                  .cause = 0,
                  .load_state = load::on_jack};
  };
  const Trial r =
      try_out(pull_on, {"hold enable advance", "wait 20 s", "release all"}, 24.0, {}, s, with_air);
  EXPECT_GT(r.force_n, 10e3);
  EXPECT_TRUE(r.checkers.breached("motion-without-enable"));
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
