// What a bed's page asks of its archive, counted in the engine: as much in a long archive as in a short one,
// and not once for each pull. Times are in archive/README.md; they can not be held to on a machine at work.
#include <gtest/gtest.h>
#include <sqlite3.h>

#include <cstdio>

#include "host-tool/archive/store.hpp"
#include "host-tool/archive/writing.hpp"
#include "host-tool/report/stressing_record.hpp"
#include "tests/bench/archive_load.hpp"
#include "tests/folder_test.hpp"

namespace strandproof::host::report {
namespace {

using bench::JackYears;

constexpr std::uint32_t jack = 1001;
constexpr std::uint32_t pull_of_bed = 1300;  // on the jack's second table, pulls 1,200 to 2,399

// Statements that SQLite has ended, and the steps of its machine that they took.
struct Cost {
  int statements = 0;
  long long steps = 0;
};
Cost cost;

int count(unsigned, void*, void* statement, void*) {
  ++cost.statements;
  cost.steps += sqlite3_stmt_status(static_cast<sqlite3_stmt*>(statement), SQLITE_STMTSTATUS_VM_STEP, 1);
  return 0;
}
int watch(sqlite3* db, char**, const void*) {
  return sqlite3_trace_v2(db, SQLITE_TRACE_PROFILE, count, nullptr);
}

class PageCost : public strandproof::test::FolderTest {
 protected:
  void SetUp() override {
    FolderTest::SetUp();
    sqlite3_auto_extension(reinterpret_cast<void (*)()>(watch));
    kept_ = std::make_unique<archive::Archive>(folder_ + "/archive.sqlite");
  }
  void TearDown() override {
    kept_.reset();
    sqlite3_reset_auto_extension();
    FolderTest::TearDown();
  }

  // The jack works on until it has made so many pulls.
  void pull_up_to(std::uint32_t pulls) {
    std::vector<archive::StoredRecord> some;
    const std::uint32_t from = made_;
    for (; made_ < pulls; ++made_) {
      for (std::uint32_t n = 0; n < JackYears::records_a_pull; ++n) some.push_back(years_.next());
    }
    kept_->add(some);
    kept_->store().in_transaction([&] {
      for (std::uint32_t n = from; n < pulls; ++n) archive::insert(kept_->store(), years_.instruction_of(n));
    });
  }
  Cost of_the_page() {
    cost = {};
    const auto page = stressing_record(*kept_, years_.bed_of(pull_of_bed), 1'900'000'000);
    EXPECT_EQ(page.pulls, 24);
    EXPECT_NE(page.html.find("points: 1 recorded"), std::string::npos);
    EXPECT_NE(page.html.find("force against slope: steady over 1200 pulls"), std::string::npos);
    std::printf("%u pulls: %d statements, %lld steps\n", made_, cost.statements, cost.steps);
    return cost;
  }
  void enter(archive::Act act, std::uint32_t outcome, const std::string& details) {
    kept_->add({jack, act, JackYears::begin_s, "technician", "", JackYears::revision_of(pull_of_bed), "", "",
                kept_->last_sequence(jack), outcome, details});
  }

  std::unique_ptr<archive::Archive> kept_;
  JackYears years_{jack, 1, true};
  std::uint32_t made_ = 0;
};

TEST_F(PageCost, IsThatOfTheBedHoweverLongTheArchive) {
  pull_up_to(2400);
  const Cost early = of_the_page();
  pull_up_to(9600);
  const Cost late = of_the_page();
  EXPECT_LE(early.statements, 24) << "fewer than a statement a pull";
  EXPECT_EQ(late.statements, early.statements);
  EXPECT_LE(late.steps, early.steps + early.steps / 50);
}

TEST_F(PageCost, AYearOfStatisticsReadsTheIndexOfItsPulls) {
  pull_up_to(6000);
  constexpr std::int64_t year_s = 365 * 86400;
  cost = {};
  const auto year = kept_->statistics(jack, JackYears::begin_s + year_s, JackYears::begin_s + 2 * year_s);
  EXPECT_EQ(year.pulls, 2500U);
  EXPECT_EQ(year.slopes, 2500U);
  std::printf("a year: %d statements, %lld steps\n", cost.statements, cost.steps);
  EXPECT_LE(cost.steps, 20LL * year.pulls);
}

// A jack with a withdrawn table: its history is read once a page, of the log an index.
TEST_F(PageCost, OfATableThatWasWithdrawnIsNotThatOfEachPull) {
  pull_up_to(2400);
  const Cost sound = of_the_page();
  enter(archive::Act::checked, 1, "{\"first_taken_s\":1717200000}");
  enter(archive::Act::withdrawn, 4, "");
  const Cost withdrawn = of_the_page();
  EXPECT_LE(withdrawn.statements, sound.statements + 4);
  const auto records = static_cast<long long>(kept_->count());
  EXPECT_LE(withdrawn.steps, sound.steps + 20 * records);
}

}  // namespace
}  // namespace strandproof::host::report
