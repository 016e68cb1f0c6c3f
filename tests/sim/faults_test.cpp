// Every kind of the fault table, each in a pull of its own with the whole firmware: it bites, no limit of the
// plant is passed, and how the pull ends is pinned. What ends within limits is not noticed: those are listed
// in sim/README.md, and their harm stands in the table.
#include <gtest/gtest.h>

#include <cstdio>
#include <map>
#include <set>
#include <string>

#include "sim/bench/machine.hpp"
#include "sim/bench/names.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

const PlainTable& table() {
  static const PlainTable made = table_from_rig(Scenario{});
  return made;
}

// At 60 kN, but for what needs another moment to bite.
fault::Fault fault_of(const fault::Row& row) {
  fault::Fault f{&row, {fault::By::force, 60e3}};
  if (row.name == "snag") {
    f.trigger.at = 2e3;  // it hangs from the first on
    f.lasts = 20.0;
  } else if (row.name == "live-chuck-slip") {
    f.trigger = {fault::By::time, 89.5};  // seated by then
  } else if (row.name == "ticks-missed" || row.name == "supply-out") {
    f.lasts = 0.1;
  } else if (row.name == "link-flood") {
    f.lasts = 20.0;  // the record is read when it is over
  }
  return f;
}

PullResult pull_with(const fault::Row* row) {
  Scenario s;
  s.time_limit = 200.0;
  if (row != nullptr) {
    s.faults = {fault_of(*row)};
  }
  return run_pull(s, table(), {});
}

// Not noticed by this controller, or of no consequence in this pull.
const std::set<std::string_view> within_limits{"pressure-a-late",
                                               "pressure-b-late",
                                               "pressure-swapped",
                                               "stroke-offset",
                                               "stroke-noise",
                                               "stroke-late",
                                               "live-chuck-slip",
                                               "abutments-yield",
                                               "enable-tied",
                                               "enable-1-tied",
                                               "grip-open",
                                               "oil-level-low",
                                               "supply-dip",
                                               "contactor-mirror-stuck",
                                               "shut-off-mirror-stuck",
                                               "advance-key-stuck",
                                               "advance-stuck-open",
                                               "advance-slow",
                                               "lower-slow",
                                               "seat-stuck-open",
                                               "shut-off-stuck-open",
                                               "pump-weak",
                                               "contactor-welded",
                                               "oil-cold",
                                               "oil-aerated",
                                               "ticks-slow",
                                               "link-flood",
                                               "ticks-missed"};

TEST(Faults, EachKindBitesAndPassesNoLimit) {
  const PullResult healthy = pull_with(nullptr);
  ASSERT_EQ(healthy.verdict, verdict::within_limits);
  for (const fault::Row& row : fault::table) {
    SCOPED_TRACE(row.name);
    const PullResult r = pull_with(&row);
    EXPECT_GE(r.fault_began_s, 0.0) << "it never began";
    if (row.place == fault::Place::link) {
      EXPECT_GT(r.noise_bytes, healthy.noise_bytes) << "nothing came over the link";
    } else {
      EXPECT_NE(r.trace_hash, healthy.trace_hash) << "it changed nothing";
    }
    if (row.name != "live-chuck-slip") {  // there the strand drags the ram a little: nobody's command
      EXPECT_TRUE(r.breaches.empty()) << r.breaches.front().check << ": " << r.breaches.front().what;
    }
    EXPECT_EQ(r.verdict == verdict::within_limits, within_limits.contains(row.name))
        << verdict_text(r.verdict) << ", " << cause_text(r.timeline.first_cause()).what;
  }
}

// H37 in its outcome: the supply is gone for a tenth of a second in the middle of a pull. Nothing is
// energised meanwhile, the controller boots into load not known, and the hands that still hold everything
// start nothing.
TEST(Faults, ASupplyThatWasGoneLeavesTheLoadHeld) {
  const PullResult r = pull_with(fault::find("supply-out"));
  EXPECT_EQ(r.cause, cause::power_returned);
  EXPECT_EQ(r.state, state::stopped);
  EXPECT_NE(r.load_state, load::no_load);
  EXPECT_GT(r.locked_n, 55e3);
  EXPECT_TRUE(r.breaches.empty());
}

// H27: a link that babbles at eight times the line's rate through the pull moves its stop by nothing.
TEST(Faults, AFloodedLinkChangesNothingOfThePull) {
  const PullResult healthy = pull_with(nullptr);
  const PullResult flooded = pull_with(fault::find("link-flood"));
  EXPECT_EQ(healthy.noise_bytes, 0U);
  EXPECT_GT(flooded.noise_bytes, 100'000U);
  EXPECT_EQ(flooded.trace_hash, healthy.trace_hash) << "the pull, tick by tick";
  EXPECT_EQ(flooded.verdict, verdict::within_limits);
}

// H53.
TEST(Faults, WedgesThatDoNotHoldAreNotCalledGood) {
  const PullResult r = pull_with(fault::find("seat-stuck-shut"));
  EXPECT_LT(r.locked_n, 10e3) << "nothing holds the strand";
  EXPECT_EQ(r.verdict, verdict::outside_force);
  EXPECT_EQ(r.recorded_locked_n, 0.0);
  EXPECT_TRUE(r.breaches.empty());
}

// The size acts: a wire of seven takes a seventh of the force at once, k times the slip goes with a slip
// (trade.md 1.2, rows 2 and 4).
TEST(Faults, ASizeIsWhatItSays) {
  const auto drop = [](const char* name, double size) {
    Scenario s;
    s.faults = {{fault::find(name), {fault::By::force, 60e3}, 1e9, size}};
    SimBoard board(bed_plant(s), board_of(s, false), s.faults);
    constexpr port::OutputBits pulling =
        port::bit(port::Output::motor) | port::bit(port::Output::fast_stage) |
        port::bit(port::Output::advance_valve) | port::bit(port::Output::shut_off_valve);
    double before = 0.0;
    constexpr int wave = 12;  // ticks over the whole 60 m
    for (int i = 0, since = 0; i < 100'000 && since <= wave; ++i) {
      if (!board.faults().any()) {
        before = board.truth().F_strand_live;
      }
      (void)board.sample({});
      board.advance(pulling);
      since += board.faults().any() ? 1 : 0;
    }
    return (before - board.truth().F_strand_live) / before;
  };
  EXPECT_NEAR(drop("wire-break", 1.0), 1.0 / 7.0, 0.01);
  EXPECT_NEAR(drop("wire-break", 3.0), 3.0 / 7.0, 0.01);
  const double k = 1.0 / (60.8 / (100e-6 * 195e9) + 1.0 / 1.0e8);
  EXPECT_NEAR(drop("dead-end-slip", 0.02), k * 0.02 / 60e3, 0.01);
  EXPECT_NEAR(drop("grip-slip", 0.02), k * 0.02 / 60e3, 0.01);
}

}  // namespace
}  // namespace strandproof::sim
