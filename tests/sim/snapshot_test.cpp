// What a trip leaves behind, read over the link, against what the bench saw: the same ticks and the same
// values, for every cause that a simulated pull can trip.
#include "proto/peer/snapshot.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>

#include "sim/bench/names.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

const PlainTable& table() {
  static const PlainTable made = table_from_rig(Scenario{});
  return made;
}

// Every sample that the board gave, and what was answered to it.
class Seen final : public Observer {
 public:
  void tick(const Moment& m) override { all.push_back({m.sample, m.answer}); }
  struct Tick {
    port::RawSample sample;
    Answer answer;
  };
  std::vector<Tick> all;

  // The first tick with this cause at or after another one.
  [[nodiscard]] std::size_t first(std::uint8_t cause, std::size_t from = 0) const {
    const auto at = std::find_if(all.begin() + static_cast<std::ptrdiff_t>(from), all.end(),
                                 [&](const Tick& t) { return t.answer.cause == cause; });
    return static_cast<std::size_t>(at - all.begin());
  }
};

struct Tripped {
  PullResult result;
  Seen seen;
  std::map<std::uint64_t, std::vector<wire::Snapshot>> snapshots;  // by the tick of their trip
  std::map<std::uint64_t, wire::EventRecord> trips;                // events, the same

  [[nodiscard]] proto::TripSnapshot first() const { return proto::snapshot_of(snapshots.begin()->second); }
};

bool is_trip(const wire::EventRecord& e) {  // EVENT of the catalogue
  return e.code() == 3 || e.code() == 27 || e.code() == 28;
}

Tripped tripped(const Scenario& s) {
  Tripped t;
  t.result = run_pull(s, table(), {}, {&t.seen});
  for (const wire::LogRecord& stored : t.result.log) {
    wire::Record r;
    EXPECT_TRUE(r.ParseFromString(stored.body()));
    if (r.has_snapshot()) {
      t.snapshots[r.snapshot().trip_ms()].push_back(r.snapshot());
    } else if (r.has_event() && is_trip(r.event())) {
      t.trips[stored.tick_ms()] = r.event();
    }
  }
  return t;
}

const proto::Margin* margin_of(const proto::TripSnapshot& s, std::uint32_t cause) {
  const auto found = std::find_if(s.margins.begin(), s.margins.end(),
                                  [&](const proto::Margin& m) { return m.cause == cause; });
  return found == s.margins.end() ? nullptr : &*found;
}

// Tick for tick and value for value.
void expect_as_seen(const proto::TripSnapshot& s, const Seen& seen, std::size_t trip) {
  ASSERT_FALSE(s.samples.empty());
  for (const proto::TripSample& row : s.samples) {
    const Seen::Tick& t = seen.all.at(trip + static_cast<std::size_t>(std::ptrdiff_t{row.at_ms}));
    ASSERT_EQ(row.pressure_a, t.sample.pressure_a) << row.at_ms;
    ASSERT_EQ(row.pressure_b, t.sample.pressure_b) << row.at_ms;
    ASSERT_EQ(row.stroke, t.sample.stroke) << row.at_ms;
    ASSERT_EQ(row.inputs, t.sample.digital) << row.at_ms;
    ASSERT_EQ(row.outputs, t.answer.outputs) << row.at_ms;
  }
}

struct Trip {
  const char* name;
  std::uint8_t cause;
  const char* fault = nullptr;
  void (*change)(Scenario&) = [](Scenario&) {};
};

void PrintTo(const Trip& t, std::ostream* to) {
  *to << t.name;
}

class EveryTrip : public testing::TestWithParam<Trip> {};

TEST_P(EveryTrip, LeavesItsSamplesAndWhatTheDetectorsSaw) {
  Scenario s;
  GetParam().change(s);
  if (GetParam().fault != nullptr) {
    s.faults = {{fault::find(GetParam().fault), {fault::By::force, 60e3}, 1e9}};
  }
  const Tripped t = tripped(s);
  ASSERT_EQ(t.result.timeline.first_cause(), GetParam().cause) << t.result.failure;
  ASSERT_FALSE(t.snapshots.empty());
  for (const auto& [tick, event] : t.trips) {
    EXPECT_EQ(t.snapshots.count(tick), 1U) << "a trip without a snapshot: cause " << event.cause();
  }
  const proto::TripSnapshot shot = t.first();
  EXPECT_EQ(shot.head.part(), 0U);
  EXPECT_EQ(shot.head.cause(), GetParam().cause);
  EXPECT_EQ(shot.head.since_ms(), 0U);
  EXPECT_FALSE(shot.head.no_samples());
  EXPECT_EQ(shot.head.pressure_span_mbar(), 700'000U);
  EXPECT_EQ(shot.head.stroke_span_um(), 600'000U);
  EXPECT_EQ(shot.total, 800U);
  EXPECT_EQ(shot.missing, std::vector<proto::TripSpan>{});
  ASSERT_EQ(shot.samples.size(), 800U);
  EXPECT_EQ(shot.samples.front().at_ms, -500);
  EXPECT_EQ(shot.samples.back().at_ms, 299);
  expect_as_seen(shot, t.seen, t.seen.first(GetParam().cause));

  // The detector that tripped is active and at or beyond its limit; each other one that was looked at is
  // there.
  const proto::Margin* own = margin_of(shot, GetParam().cause);
  ASSERT_NE(own, nullptr);
  EXPECT_TRUE(own->active);
  const wire::EventRecord& event = t.trips.begin()->second;
  EXPECT_EQ(own->value, std::int64_t{event.value()});
  EXPECT_EQ(own->limit, std::int64_t{event.limit()});
  EXPECT_LE(own->left(), 0);
  EXPECT_GE(shot.margins.size(), 10U);
  const proto::Margin* force = margin_of(shot, 1);  // quiet in each of these pulls, and looked at
  ASSERT_NE(force, nullptr);
  EXPECT_NEAR(static_cast<double>(force->limit), t.result.plan.limit, 1.0);
  EXPECT_NE(force->value, 0);
  for (const proto::Margin& m : shot.margins) {
    if (m.limit != 0 && !m.active) {
      EXPECT_GE(m.left(), 0) << "not active and beyond its limit: cause " << m.cause;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(
    Causes, EveryTrip,
    testing::Values(
        Trip{"H04", cause::h04_signal_lost, "pressure-a-open"},
        Trip{"H04stroke", cause::h04_signal_lost, "stroke-short"},
        Trip{"H05", cause::h05_signal_stuck, "pressure-b-stuck"},
        Trip{"H14", cause::h14_strand_break, "strand-break"},
        Trip{"H47", cause::h47_barrier_open, "barrier-1-only"},
        Trip{"EmergencyStop", cause::emergency_stop, "emergency-stop"},
        Trip{"H11", cause::h11_no_motion, "pump-dead"},
        Trip{"H06", cause::h06_channels_disagree, nullptr, [](Scenario& s) { s.sensors.gain_b = 0.04; }},
        Trip{"H02", cause::h02_dead_headed, nullptr, [](Scenario& s) { s.jack.stroke = 0.3; }},
        Trip{"ElongationHigh", 102, nullptr, [](Scenario& s) { s.plan.elongation = 0.33; }},
        Trip{"ElongationLow", 103, nullptr,
             [](Scenario& s) { s.strand.slack = 0.02, s.plan.elongation = 0.385, s.plan.window = 0.01; }},
        Trip{"PhaseTime", 105, nullptr, [](Scenario& s) { s.pump.scale = 0.10; }},
        Trip{"SlackLimit", 106, nullptr, [](Scenario& s) { s.strand.slack = 0.12, s.plan.slack_max = 0.08; }},
        Trip{
            "SettleFall", 107, nullptr,
            [](Scenario& s) {
              s.faults = {{fault::find("holding-valve-leak"), {fault::By::state, state::settle}, 1e9, 20e-6}};
            }},
        Trip{"H17", cause::h17_enable_held, nullptr,
             [](Scenario& s) {  // in the settle nobody lets go, for longer than ten minutes
               s.operator_lines = {"press confirm", "wait state ready", "hold enable advance",
                                   "wait state settle within 200 s", "wait 620 s"};
             }}),
    [](const auto& trip) { return std::string{trip.param.name}; });

// One channel of the emergency stop: 100 ms later the circuit itself trips, in the 300 ms of the first trip.
// It has a head of its own, and its moment is among the samples of the first.
TEST(SecondTrip, AmongTheSamplesOfTheFirstSaysSo) {
  Scenario s;
  s.faults = {{fault::find("emergency-stop-1-only"), {fault::By::force, 60e3}, 1e9}};
  const Tripped t = tripped(s);
  ASSERT_EQ(t.snapshots.size(), 2U);
  const auto& [first_ms, first_parts] = *t.snapshots.begin();
  const auto& [second_ms, second_parts] = *t.snapshots.rbegin();
  EXPECT_EQ(second_ms - first_ms, 100U - 1U);
  const proto::TripSnapshot second = proto::snapshot_of(second_parts);
  EXPECT_EQ(second.head.cause(), 16U);
  EXPECT_EQ(second.head.since_ms(), second_ms - first_ms);
  EXPECT_FALSE(second.head.no_samples());
  EXPECT_TRUE(second.samples.empty());
  ASSERT_NE(margin_of(second, 16), nullptr);
  EXPECT_TRUE(margin_of(second, 16)->active);
  const proto::TripSnapshot first = proto::snapshot_of(first_parts);
  EXPECT_EQ(first.samples.size(), 800U);
  EXPECT_EQ(margin_of(first, 16)->active, false);
  expect_as_seen(first, t.seen, t.seen.first(cause::emergency_stop));
}

}  // namespace
}  // namespace strandproof::sim
