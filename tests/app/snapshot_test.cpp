// Snapshots of trips in set-up, where nothing moves: a trip while another one is being written, a power cut
// at every moment of the writing, a supply that fails, a trip right after power on.
#include "proto/peer/snapshot.hpp"

#include <map>

#include "tests/app/app_bench.hpp"

namespace strandproof::app {
namespace {

using Parts = std::vector<wire::Snapshot>;

struct Jack : Desk {
  Jack() {
    menu(1);
    run(700);
  }
  // Presses a contact open for so many ticks.
  void opens(port::Input contact, unsigned ticks) {
    open = static_cast<std::uint16_t>(open | port::bit(contact));
    run(ticks);
    open = static_cast<std::uint16_t>(open & ~port::bit(contact));
  }
  // Every record of the log in order, snapshots by boot and tick of their trip.
  std::map<std::pair<std::uint32_t, std::uint64_t>, Parts> snapshots() {
    std::map<std::pair<std::uint32_t, std::uint64_t>, Parts> found;
    records = trips = 0;
    peer.on_record = [&](const wire::LogRecord& r) {
      wire::Record record;
      EXPECT_TRUE(record.ParseFromString(r.body()));
      ++records;
      if (record.has_snapshot()) found[{r.boot(), record.snapshot().trip_ms()}].push_back(record.snapshot());
      trips += record.event().code() == 3 || record.event().code() == 27 ? 1U : 0U;
    };
    peer.fetch_log(0);
    EXPECT_TRUE(done());
    peer.on_record = {};
    return found;
  }
  unsigned records = 0, trips = 0;
};

using port::Input;

TEST(Snapshot, ATripWhileAnotherIsWrittenHasItsMarginsAndSaysThatItHasNoSamples) {
  Jack d;
  d.opens(Input::emergency_stop_1, 20);
  d.run(240);
  d.opens(Input::emergency_stop_2,
          150);  // the channels differ from the 260th ms on, the row trips 100 ms later
  d.run(600);
  const auto all = d.snapshots();
  ASSERT_EQ(all.size(), 2U);
  EXPECT_EQ(d.trips, 2U);
  const auto first = proto::snapshot_of(all.begin()->second);
  EXPECT_EQ(first.samples.size(), 800U);
  EXPECT_TRUE(first.missing.empty());
  const auto second = proto::snapshot_of(all.rbegin()->second);
  EXPECT_EQ(second.head.part(), 0U);
  EXPECT_EQ(second.head.cause(), 16U);
  EXPECT_TRUE(second.head.no_samples());
  EXPECT_EQ(second.total, 0U);
  EXPECT_FALSE(second.margins.empty());
}

// The rows begin anew once those of a trip are written: a trip soon after has fewer before it, and says how
// many.
TEST(Snapshot, ATripRightAfterPowerOnHasTheRowsThatThereWere) {
  Desk d;
  d.menu(1);  // takes 120 ms and more
  const std::uint32_t ticks = d.sample_tick;
  d.open = port::bit(Input::barrier_1);
  d.run(5);
  d.open = 0;
  d.run(600);
  Parts parts;
  d.peer.on_record = [&](const wire::LogRecord& r) {
    wire::Record record;
    ASSERT_TRUE(record.ParseFromString(r.body()));
    if (record.has_snapshot()) parts.push_back(record.snapshot());
  };
  d.peer.fetch_log(0);
  ASSERT_TRUE(d.done());
  const auto shot = proto::snapshot_of(parts);
  ASSERT_LT(ticks, 500U) << "the test came too late";
  ASSERT_FALSE(shot.samples.empty());
  EXPECT_EQ(shot.samples.front().at_ms, -static_cast<std::int32_t>(ticks));
  EXPECT_EQ(shot.total, ticks + 300U);
  EXPECT_TRUE(shot.missing.empty());
}

TEST(Snapshot, AFailingSupplyEndsTheSamplesAndTheyAreWritten) {
  Jack d;
  d.opens(Input::emergency_stop_1, 50);
  d.open = port::bit(Input::supply_ok);
  d.run(400);
  const auto all = d.snapshots();
  ASSERT_EQ(all.size(), 1U);
  const auto shot = proto::snapshot_of(all.begin()->second);
  EXPECT_EQ(shot.samples.back().at_ms, 50) << "the tick in which the supply failed is the last";
  EXPECT_EQ(shot.total, 551U);
  EXPECT_TRUE(shot.missing.empty());
}

// A power cut in any tick from the trip to the last part: what is there is right, and what is not is named.
TEST(Snapshot, APowerCutLeavesARightBeginningAndTheRestIsNamed) {
  unsigned none = 0, some = 0, whole = 0;
  for (unsigned cut = 1; cut < 560; cut += 13) {
    Jack d;
    const std::uint32_t trip = d.sample_tick + 1;
    d.open = port::bit(Input::barrier_1);
    d.run(cut);
    d.open = 0;
    d.boot();
    const auto all = d.snapshots();
    ASSERT_LE(all.size(), 1U);
    if (all.empty()) {
      EXPECT_LT(cut, 40U) << "the head had been made long before";
      continue;
    }
    ASSERT_EQ(all.begin()->first.second, trip);
    const auto shot = proto::snapshot_of(all.begin()->second);
    ASSERT_EQ(shot.head.part(), 0U) << "no part is there without the head";
    std::size_t there = shot.samples.size();
    (there == 0 ? none : there < 800 ? some : whole) += 1;
    for (std::size_t i = 0; i < there; ++i) {
      ASSERT_EQ(shot.samples[i].at_ms, static_cast<std::int32_t>(i) - 500);
      ASSERT_EQ(shot.samples[i].stroke, 11'700);
      ASSERT_EQ((shot.samples[i].inputs & port::bit(Input::barrier_1)) != 0, shot.samples[i].at_ms < 0);
    }
    if (there == 0) {
      EXPECT_EQ(shot.total, 0U);
    } else if (there < 800) {
      const proto::TripSpan rest{static_cast<std::int32_t>(there) - 500, 299};
      EXPECT_EQ(shot.missing, std::vector<proto::TripSpan>{rest});
    }
  }
  EXPECT_GT(none, 5U);
  EXPECT_GT(some, 5U);
  EXPECT_GT(whole, 0U);
}

TEST(Snapshot, ADamagedPartCountsAsMissing) {
  wire::Snapshot damaged;
  damaged.set_part(1);
  damaged.set_total(4);
  damaged.set_begin_ms(-2);
  damaged.set_from_ms(-2);
  damaged.set_rows("\xff");
  const auto shot = proto::snapshot_of({damaged});
  EXPECT_NE(shot.head.part(), 0U);
  EXPECT_TRUE(shot.samples.empty());
  EXPECT_EQ(shot.missing, (std::vector<proto::TripSpan>{{-2, 1}}));
}

// Five trips in five ticks, more than the places for heads: the next head says how many had none.
TEST(Snapshot, TripsWithoutAPlaceAreCounted) {
  sim::SimFlash flash;
  Vault vault{flash, bench_device()};
  vault.mount();
  vault.make_room();
  const control::Controller controller{jack_of(bench_device()), control::default_settings};
  const port::Device device = bench_device();
  const Clock clock;
  Snapshots snapshots{vault.chain()};
  units::Ticks now = 0;
  const auto runs = [&](unsigned ticks, bool trips, bool writes) {
    for (unsigned i = 0; i < ticks; ++i) {
      snapshots.sample({}, 0, ++now);
      if (trips) snapshots.trip(controller, now);
      if (writes && !snapshots.step({controller, device, clock, now}, 1)) (void)vault.chain().step();
    }
  };
  runs(10, false, true);
  runs(5, true, false);
  runs(800, false, true);
  runs(1, true, true);
  runs(100, false, true);
  std::map<std::uint64_t, std::uint32_t> missed;  // heads by the tick of their trip
  record::RecordHeader header;
  std::array<std::uint8_t, record::record_body_max> body{};
  for (std::uint64_t next = 1;; next = header.sequence + 1) {
    const record::Fetched got = vault.log().read_from(next, header, body);
    if (got.error != record::Error::none) break;
    wire::Record r;
    ASSERT_TRUE(r.ParseFromArray(body.data(), got.size));
    if (r.snapshot().part() == 0) missed[r.snapshot().trip_ms()] = r.snapshot().missed();
  }
  EXPECT_EQ(missed, (std::map<std::uint64_t, std::uint32_t>{{11, 0}, {12, 0}, {816, 3}}));
}

}  // namespace
}  // namespace strandproof::app
