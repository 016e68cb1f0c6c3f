// The whole way in virtual time: rig, pairing, table, instruction, pull, record, on the plant and with the
// whole firmware. Reaction limits are those of the hazard list (H01 ... H47), measured from the cause in
// the plant to the tick in which the controller commands its motion outputs off.
#include "sim/main/pull.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>

#include "sim/bench/names.hpp"

namespace strandproof::sim {
namespace {

const PlainTable& table() {
  static const PlainTable made = table_from_rig(Scenario{});
  return made;
}

fault::Fault at_force(const char* name, double force_n, double lasts_s = 1e9) {
  return {fault::find(name), {fault::By::force, force_n}, lasts_s};
}

PullResult pull(const Scenario& s, const std::vector<Observer*>& also = {}) {
  return run_pull(s, table(), {}, also);
}

PullResult pull_with(const char* fault, std::vector<std::string> lines = {"pull"}, double lasts_s = 1e9) {
  Scenario s;
  s.faults = {at_force(fault, 60e3, lasts_s)};
  s.operator_lines = std::move(lines);
  return pull(s);
}

bool visited(const PullResult& r, std::uint8_t state) {
  for (const Visit& v : r.timeline.visits()) {
    if (v.state == state) {
      return true;
    }
  }
  return false;
}

// First tick at or after a moment of the plant in which no motion is commanded any more.
class Reaction final : public Observer {
 public:
  using Cause = bool (*)(const Moment&);
  explicit Reaction(Cause cause) : cause_{cause} {}
  void tick(const Moment& m) override {
    constexpr unsigned motion = 0x3F;  // all but horn and lamp
    if (began_ < 0 && cause_(m)) {
      began_ = static_cast<long>(m.tick);
    }
    if (began_ >= 0 && off_ < 0 && (m.answer.outputs & motion) == 0) {
      off_ = static_cast<long>(m.tick);
    }
  }
  [[nodiscard]] bool began() const { return began_ >= 0; }
  [[nodiscard]] long ticks() const { return off_ < 0 ? 1'000'000 : off_ - began_; }

 private:
  Cause cause_;
  long began_ = -1, off_ = -1;
};

TEST(Pull, EndsWithinLimitsAndRecordsIt) {
  const PullResult r = pull(Scenario{});
  EXPECT_TRUE(r.failure.empty()) << r.failure;
  EXPECT_EQ(r.verdict, verdict::within_limits);
  EXPECT_TRUE(r.breaches.empty()) << r.breaches.front().what;
  EXPECT_TRUE(r.recorded);
  EXPECT_EQ(r.load_state, load::on_chuck);
  EXPECT_EQ(exit_code(r), 0);
  const std::vector<std::uint8_t> order{state::idle,      state::ready,     state::slack,  state::datum,
                                        state::main_pull, state::slow_pull, state::settle, state::seat,
                                        state::ended,     state::idle};
  ASSERT_EQ(r.timeline.visits().size(), order.size());
  for (std::size_t i = 0; i < order.size(); ++i) {
    EXPECT_EQ(r.timeline.visits()[i].state, order[i]) << i;
  }
}

// The record against the truth it describes, and the elongation against PL/AE of the trade (trade.md 2.2,
// formula 1, with tail and abutments): 115 kN over 319.7 N/mm is 359.7 mm. The plant has the strand's
// curve, which is longer than PL/AE, and a dead end that draws in: within the 5 % window of UFGS 03 23 00.
TEST(Pull, RecordAgreesWithTheTruth) {
  const PullResult r = pull(Scenario{});
  const double true_elongation = r.timeline.end_of_settle().stroke_m - r.timeline.datum().stroke_m;
  EXPECT_NEAR(r.plan.elongation, 0.35971, 1e-5);
  EXPECT_NEAR(r.recorded_elongation_m, true_elongation, 0.2e-3);
  EXPECT_NEAR(true_elongation / r.plan.elongation, 1.0, 0.05);
  EXPECT_NEAR(r.recorded_settle_n, r.timeline.end_of_settle().force_n, 0.0025 * r.plan.jack);
  // Locked force is calculated from the draw-in, which is seen to about half a millimetre of 325 N/mm.
  EXPECT_NEAR(r.recorded_locked_n, r.locked_n, 0.5e-3 * strand_stiffness(Scenario{}.strand));
}

TEST(Pull, SameSeedSameBytes) {
  const PullResult one = pull(Scenario{});
  const PullResult two = pull(Scenario{});
  EXPECT_EQ(one.trace_hash, two.trace_hash);
  EXPECT_EQ(one.flash_hash, two.flash_hash);
  Scenario other;
  other.seed = 2;
  EXPECT_NE(one.trace_hash, pull(other).trace_hash);
}

// The board's counter passes 2^16, 2^32 and the place where one of microseconds would wrap within a second of
// the start; and 2^32 in the main pull. Not a byte of the records differs.
TEST(Pull, TheTickCounterMayWrap) {  // H35
  const PullResult plain = pull(Scenario{});
  for (const double first :
       {65'536.0 - 500.0, 4'294'967.0 - 500.0, 4'294'967'296.0 - 500.0, 4'294'967'296.0 - 40'000.0}) {
    Scenario s;
    s.first_tick = first;
    const PullResult wrapped = pull(s);
    EXPECT_EQ(wrapped.verdict, verdict::within_limits) << first;
    EXPECT_EQ(wrapped.timeline.end_of_settle().force_n, plain.timeline.end_of_settle().force_n) << first;
    EXPECT_EQ(wrapped.flash_hash, plain.flash_hash) << first;
  }
}

// Issue 2, Measured: a limit one step (1 N) below the jack force is refused; at it and above it the pull is
// made and stops at the jack force.
TEST(Pull, LimitOneStepBelowAtAndAboveTheJackForce) {
  Scenario s;
  s.plan.limit = s.plan.jack_force - 1.0;
  const PullResult below = pull(s);
  EXPECT_NE(below.failure.find("JACK FORCE ABOVE THE LIMIT"), std::string::npos) << below.failure;
  EXPECT_FALSE(visited(below, state::ready));
  for (const double limit : {s.plan.jack_force, s.plan.jack_force + 1.0}) {
    s.plan.limit = limit;
    const PullResult made = pull(s);
    EXPECT_TRUE(visited(made, state::settle)) << limit;
    EXPECT_NEAR(made.timeline.end_of_settle().force_n, s.plan.jack_force, 0.006 * s.plan.jack_force) << limit;
    EXPECT_EQ(made.verdict, verdict::within_limits) << limit;
  }
}

// ---- hazards ---------------------------------------------------------------------------------------

struct Row {
  const char* fault;
  std::uint8_t cause;
  double limit_s;       // of the hazard list, from the cause to the command; one tick for the sample itself
  double wave_s = 0.0;  // that the news takes to the jack: no detection may come before
};

class HazardRow : public testing::TestWithParam<Row> {};

TEST_P(HazardRow, IsStoppedInItsTimeAndHeld) {
  const PullResult r = pull_with(GetParam().fault);
  ASSERT_GE(r.fault_began_s, 0.0) << "the fault never bit";
  EXPECT_EQ(r.timeline.first_cause(), GetParam().cause);
  const double after_s = r.timeline.first_cause_s() - r.fault_began_s - GetParam().wave_s;
  EXPECT_LE(after_s, GetParam().limit_s + 1e-9);
  EXPECT_GE(after_s, -1e-9) << "before the wave was there";
  EXPECT_EQ(r.state, state::stopped);
  EXPECT_TRUE(r.breaches.empty()) << r.breaches.front().what;
  EXPECT_NE(r.load_state, load::no_load);
  EXPECT_EQ(exit_code(r), 1);
}

INSTANTIATE_TEST_SUITE_P(
    Live, HazardRow,
    testing::Values(
        Row{"pressure-a-open", cause::h04_signal_lost, 0.005},
        Row{"pressure-b-open", cause::h04_signal_lost, 0.005},
        Row{"pressure-a-short", cause::h04_signal_lost, 0.005},
        Row{"pressure-b-short", cause::h04_signal_lost, 0.005},
        Row{"stroke-open", cause::h04_signal_lost, 0.005}, Row{"stroke-short", cause::h04_signal_lost, 0.005},
        // H05: 250 ms after the expected rise passes 1 % of span; at 4.6 kN/s on 48 cm2 that
        // rise of 0.7 MPa takes 0.73 s [computed from the default scenario].
        Row{"pressure-a-stuck", cause::h05_signal_stuck, 0.73 + 0.250},
        Row{"pressure-b-stuck", cause::h05_signal_stuck, 0.73 + 0.250},
        Row{"stroke-stuck", cause::h05_signal_stuck, 0.73 + 0.250},
        // H14, full break: 5 ms after the wave arrives, which from the middle of 60 m takes 6.02 ms.
        Row{"strand-break", cause::h14_strand_break, 0.005, 0.006},
        Row{"emergency-stop", cause::emergency_stop, 0.005}, Row{"barrier", cause::h47_barrier_open, 0.005},
        Row{"barrier-1-only", cause::h47_barrier_open, 0.005},
        Row{"emergency-stop-1-only", cause::emergency_stop, 0.005}),
    [](const testing::TestParamInfo<Row>& row) {
      std::string name = row.param.fault;
      std::replace(name.begin(), name.end(), '-', '_');
      return name;
    });

// H11: no motion though commanded, within 1 s of the ram standing still.
TEST(Hazard, H11NoMotionIsStoppedInASecond) {
  Scenario s;
  s.faults = {at_force("pump-dead", 60e3)};
  Reaction reaction([](const Moment& m) {
    return m.truth.F_strand_live > 59e3 && m.truth.v_ram < 0.1e-3 && m.answer.state == state::main_pull;
  });
  const PullResult r = pull(s, {&reaction});
  EXPECT_EQ(r.timeline.first_cause(), cause::h11_no_motion);
  ASSERT_TRUE(reaction.began());
  EXPECT_LE(reaction.ticks(), 1000);
}

// H02: the ram runs onto its end stop long before the stroke it was said to have. The row's whole budget is
// 75 ms, valves included; here it is what the command may take, since a rise has to be told from noise first.
TEST(Hazard, H02DeadHeadedAtTheEndStop) {
  Scenario s;
  s.jack.stroke = 0.300;
  Reaction reaction([](const Moment& m) { return m.truth.x_ram >= 0.300; });
  const PullResult r = pull(s, {&reaction});
  ASSERT_TRUE(reaction.began());
  EXPECT_EQ(r.timeline.first_cause(), cause::h02_dead_headed);
  std::printf("commanded off %ld ms after the ram's end stop\n", reaction.ticks());
  EXPECT_LE(reaction.ticks(), 75);
  EXPECT_TRUE(r.breaches.empty()) << r.breaches.front().what;
}

// H03: one channel reads high; a strand is accepted only if both agree.
TEST(Hazard, H03ChannelsThatDisagreeAreNotCalledGood) {
  Scenario s;
  s.sensors.gain_b = 0.016;  // 0.45 MPa at 28 MPa: over the 1 % that is accepted, under the 2 % that trips
  const PullResult r = pull(s);
  EXPECT_NE(r.verdict, verdict::within_limits);
  EXPECT_TRUE(r.breaches.empty());
}

// H06: a gain that has drifted by 4 % is a trip within 500 ms of the difference passing max(2 % of reading,
// 1 % of span): here 0.7 MPa of 70 MPa. Noise may let the row act earlier, by three deviations of the
// difference of two 200 ms means, 2 % of the limit; not before that.
TEST(Hazard, H06ADriftedChannelIsATrip) {
  Scenario s;
  s.sensors.gain_b = 0.04;
  Reaction near_it([](const Moment& m) { return 0.04 * m.truth.p_cap > 0.98 * 0.7e6; });
  Reaction past_it([](const Moment& m) { return 0.04 * m.truth.p_cap > 0.7e6; });
  const PullResult r = pull(s, {&near_it, &past_it});
  EXPECT_EQ(r.timeline.first_cause(), cause::h06_channels_disagree);
  EXPECT_TRUE(near_it.began()) << "tripped far below its limit";
  EXPECT_TRUE(!past_it.began() || past_it.ticks() <= 500) << past_it.ticks();
  EXPECT_EQ(r.state, state::stopped);
  EXPECT_TRUE(r.breaches.empty()) << r.breaches.front().what;
}

// H15: unlatching, reset and confirm with the keys still held never start anything.
TEST(Hazard, H15NothingRestartsWithoutAFreshPress) {
  Scenario s;
  s.faults = {at_force("emergency-stop", 60e3, 3.0)};
  s.operator_lines = {
      "press confirm", "wait state ready", "hold enable advance", "wait state stopped", "wait 5 s",
      "press reset",   "wait 1 s",         "press confirm",       "wait 3 s",           "release all"};
  const PullResult r = pull(s);
  EXPECT_TRUE(r.failure.empty()) << r.failure;
  EXPECT_EQ(r.state, state::stopped);
  EXPECT_EQ(r.timeline.visits().back().state, state::stopped);
}

TEST(Hazard, H15AFreshPressGoesOnAfterTheBedIsSearched) {
  const PullResult r = pull_with("emergency-stop", {"pull", "go-on"}, 3.0);
  EXPECT_EQ(r.verdict, verdict::within_limits);
  EXPECT_TRUE(r.breaches.empty()) << r.breaches.front().what;
}

// H17: an enable that is held at the arming refuses it.
TEST(Hazard, H17ATiedEnableIsNotArmed) {
  Scenario s;
  s.operator_lines = {"hold enable-1", "wait 1 s", "press confirm", "wait 2 s"};
  const PullResult r = pull(s);
  EXPECT_FALSE(visited(r, state::ready));
  EXPECT_EQ(refusal_text(r.refusal).why, "ENABLE MUST BE RELEASED FIRST");
}

// Letting go stops and holds; nothing moves afterwards; a fresh press goes on with datum and sums kept.
TEST(Hazard, LettingGoStopsAndAFreshPressResumes) {
  Scenario s;
  s.operator_lines = {"press confirm",
                      "wait state ready",
                      "hold enable advance",
                      "wait state main-pull",
                      "wait 10 s",
                      "release enable-2",
                      "wait 5 s",
                      "release all",
                      "wait 1 s",
                      "go-on"};
  const PullResult r = pull(s);
  EXPECT_TRUE(r.failure.empty()) << r.failure;
  EXPECT_EQ(r.timeline.first_cause(), cause::enable_released);
  EXPECT_EQ(r.verdict, verdict::within_limits);
  EXPECT_TRUE(r.breaches.empty()) << r.breaches.front().what;
}

// From every loaded stop "no load" can be reached (interface.md): never refused for a failed channel. The
// truth has to be rid of the load too.
class LowerAfter : public testing::TestWithParam<const char*> {};

TEST_P(LowerAfter, NoLoadIsReached) {
  const bool circuit =
      std::string(GetParam()).starts_with("emergency") || std::string(GetParam()).starts_with("barrier");
  const PullResult r = pull_with(GetParam(), {"pull", "lower-to-no-load"}, circuit ? 3.0 : 1e9);
  EXPECT_TRUE(r.failure.empty()) << r.failure;
  EXPECT_EQ(r.state, state::idle);
  EXPECT_EQ(r.load_state, load::no_load);
  EXPECT_LT(r.locked_n, 500.0);  // the sag of the strand's own weight at the most
  EXPECT_NE(r.verdict, verdict::within_limits);
}

INSTANTIATE_TEST_SUITE_P(Every, LowerAfter,
                         testing::Values("pressure-a-open", "pressure-b-short", "pressure-a-stuck",
                                         "pressure-b-stuck", "stroke-open", "stroke-stuck", "strand-break",
                                         "emergency-stop", "barrier", "pump-dead"),
                         [](const testing::TestParamInfo<const char*>& fault) {
                           std::string name = fault.param;
                           std::replace(name.begin(), name.end(), '-', '_');
                           return name;
                         });

// The pressure at which no load is looked for means another force on every ram, and another stretch on every
// length of strand.
TEST(Lowering, LeavesNoLoadWhateverTheRamAndTheStrand) {
  for (const char* area : {"48 cm2", "60 cm2", "100 cm2"}) {
    for (const char* length : {"20 m", "60 m"}) {
      Scenario s;
      set_value(s, std::string("jack.area=") + area);
      set_value(s, std::string("strand.length=") + length);
      s.faults = {at_force("emergency-stop", 60e3, 3.0)};
      s.operator_lines = {"pull", "lower-to-no-load"};
      const PullResult r = run_pull(s, table_from_rig(s), {}, {});  // each ram has a table of its own
      EXPECT_EQ(r.load_state, load::no_load) << area << " " << length << ": " << r.failure;
      EXPECT_LT(r.locked_n, 500.0) << area << " " << length;
      EXPECT_TRUE(r.breaches.empty()) << area << " " << length << ": " << r.breaches.front().what;
    }
  }
}

}  // namespace
}  // namespace strandproof::sim
