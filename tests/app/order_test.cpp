// The order of the records at counters' wraps and under a wall clock that goes back, leaps or is lost (H35,
// H36): it is the log's own numbers', and within a boot the tick's.
#include "tests/app/app_bench.hpp"

namespace strandproof::app {
namespace {

struct Row {
  std::uint64_t sequence, tick;
  std::uint32_t boot, code, detail;
  std::uint64_t utc_s;
};

std::vector<Row> log_of(Desk& d) {
  std::vector<Row> rows;
  d.peer.on_record = [&](const wire::LogRecord& r) {
    wire::Record record;
    EXPECT_TRUE(record.ParseFromString(r.body()));
    if (record.has_event()) {
      rows.push_back({r.sequence(), r.tick_ms(), r.boot(), record.event().code(), record.event().detail(),
                      record.event().utc_s()});
    }
  };
  d.peer.fetch_log(0);
  EXPECT_TRUE(d.done());
  d.peer.on_record = {};
  return rows;
}

void expect_in_order(const std::vector<Row>& rows) {
  for (std::size_t i = 1; i < rows.size(); ++i) {
    EXPECT_GT(rows[i].sequence, rows[i - 1].sequence) << i;
    if (rows[i].boot == rows[i - 1].boot) {
      EXPECT_GE(rows[i].tick, rows[i - 1].tick) << i;
    } else {
      EXPECT_EQ(rows[i].boot, rows[i - 1].boot + 1U) << i;
      EXPECT_EQ(rows[i].code, static_cast<std::uint32_t>(EventCode::boot)) << "the first of its boot";
    }
  }
}

TEST(Order, HoldsWhereTheBootCounterWraps) {
  Desk d;
  {
    Vault vault{d.flash, bench_device()};
    vault.mount();
    ASSERT_TRUE(vault.save(record::CellId::boot_counter, UINT32_MAX - 2));
  }
  std::vector<Row> before;
  for (int n = 0; n < 4; ++n) {
    d.boot();
    d.run(50);
    const auto now = log_of(d);
    ASSERT_GT(now.size(), before.size());
    for (std::size_t i = 0; i < before.size(); ++i) {
      EXPECT_EQ(now[i].sequence, before[i].sequence) << "boot " << n;
      EXPECT_EQ(now[i].boot, before[i].boot) << "boot " << n;
    }
    before = now;
  }
  ASSERT_EQ(before.size(), 5U);
  EXPECT_EQ(before[2].boot, UINT32_MAX);
  EXPECT_EQ(before[3].boot, 0U);
  EXPECT_EQ(before[4].boot, 1U);
}

std::uint32_t set_clock(Desk& d, std::uint64_t utc_s) {
  d.peer.set_clock(utc_s);
  return d.code();
}

TEST(Order, DoesNotAskTheWallClock) {
  constexpr std::uint64_t day = 86'400;
  constexpr std::uint64_t start = 20'000 * day;
  Desk d;
  d.pair();
  EXPECT_EQ(set_clock(d, start), 0U);
  EXPECT_EQ(set_clock(d, start + 300 * day), 0U);  // forward
  EXPECT_EQ(set_clock(d, start), static_cast<std::uint32_t>(link::Code::clock_back));
  d.boot();  // lost
  EXPECT_EQ(set_clock(d, start + 2 * day), static_cast<std::uint32_t>(link::Code::clock_back));
  EXPECT_EQ(set_clock(d, start + 300 * day + 5), 0U);
  {
    Vault vault{d.flash, bench_device()};  // the cell of the clock is lost as well
    vault.mount();
    ASSERT_TRUE(vault.save(record::CellId::clock, std::uint64_t{0}));
  }
  d.boot();
  EXPECT_EQ(set_clock(d, start - 1000 * day), 0U) << "back by years: nothing is known that forbids it";
  d.boot();
  const auto rows = log_of(d);
  expect_in_order(rows);
  unsigned back = 0;
  for (std::size_t i = 1; i < rows.size(); ++i) {
    back += rows[i].utc_s < rows[i - 1].utc_s ? 1U : 0U;
  }
  EXPECT_GE(back, 1U) << "the clock must have gone back on record, or this shows nothing";
  EXPECT_GE(rows.size(), 10U);
}

}  // namespace
}  // namespace strandproof::app
