// Pages that refuse are retired and stay so, and a part is worn to its end: evenly, with nothing lost, and
// with a clean refusal.
#include <iomanip>

#include "tests/record/cut_lab.hpp"

namespace strandproof::test {
namespace {

using record::Error;
using record::Priority;
using record::Region;
using record::Store;

constexpr std::uint32_t page = 1024;
constexpr std::uint32_t pages = 16;
constexpr Region region{.base = 0, .size = pages * page, .reserve_pages = 1, .spare_pages = 4};

class WornFlash : public testing::Test {
 protected:
  [[nodiscard]] Store idled() {
    Store store{flash, region};
    EXPECT_EQ(store.mount(), Error::none);
    idle(store);
    return store;
  }
  // So many records, each fetched and released at once; as the chain does, one that a page has refused is
  // handed in again. False: the log is full.
  [[nodiscard]] bool work(Store& store, int records) {
    for (int i = 0; i < records; ++i) {
      Error e = shadow.append(store, boot);
      for (int again = 0; e == Error::flash && again < 3; ++again) {
        e = shadow.append(store, boot);
      }
      if (e != Error::none) {
        return false;
      }
      shadow.release(store, shadow.newest_acknowledged() - 1);
      idle(store);
    }
    return true;
  }
  void expect_nothing_wrong(Store& store) {
    const auto counts = shadow.compare(store);
    EXPECT_EQ(counts.lost + counts.invented + counts.doubled + counts.unordered, 0U);
    EXPECT_GT(counts.kept, 0U);
  }

  NastyFlash flash{pages, page, 8};
  Shadow shadow;
  std::uint32_t boot = 1;
};

TEST_F(WornFlash, APageThatIsErasedNoMoreIsPassedOver) {
  flash.wears_out_after(5, 1);
  Store store = idled();
  ASSERT_TRUE(work(store, 60));
  EXPECT_EQ(store.retired_pages(), 1U);
  EXPECT_EQ(flash.erases(5), 2U) << "asked once and never again";
  expect_nothing_wrong(store);
}

TEST_F(WornFlash, APageThatDoesNotTakeAMarkAnOpeningOrARecordIsPassedOver) {
  flash.stick(3 * page + 2);                                  // the ready mark
  flash.stick(4 * page + record::mark_size + 12);             // the header
  flash.stick(6 * page + record::log_page::entries_at + 30);  // a body
  flash.stick(7 * page + record::log_page::entries_at + 9);   // the tick of a record
  Store store = idled();
  EXPECT_EQ(store.retired_pages(), 1U);
  ASSERT_TRUE(work(store, 60));
  EXPECT_EQ(store.retired_pages(), 4U);
  EXPECT_FALSE(store.worn_out());
  expect_nothing_wrong(store);
}

TEST_F(WornFlash, TheListOutlastsThePowerAndGoesAllTheWayRound) {
  flash.stick(6 * page + record::log_page::entries_at + 30);
  {
    Store store = idled();
    ASSERT_TRUE(work(store, 30));
    ASSERT_EQ(store.retired_pages(), 1U);
  }
  for (boot = 2; boot < 12; ++boot) {
    Store store = idled();
    EXPECT_EQ(store.retired_pages(), 1U) << "boot " << boot;
    ASSERT_TRUE(work(store, 30));
    expect_nothing_wrong(store);
  }
  EXPECT_EQ(flash.erases(6), 1U);
}

// Unfetched records on a page that was retired under them are still there, and go only when they are
// released.
TEST_F(WornFlash, ARetiredPageKeepsItsRecordsUntilTheyAreReleased) {
  flash.stick(record::log_page::entries_at + record::entry_size(4) + 12);
  Store store = idled();
  ASSERT_EQ(shadow.append(store, 1), Error::none);
  EXPECT_EQ(shadow.append(store, 1), Error::flash);
  EXPECT_EQ(store.retired_pages(), 1U);
  while (shadow.append(store, 1, Priority::fault) == Error::none) {
  }
  idle(store);
  EXPECT_EQ(store.first(), 1U);
  EXPECT_TRUE(store.full());
  Store again = idled();
  EXPECT_EQ(shadow.compare(again).lost, 0U);
  shadow.release(again, shadow.newest_acknowledged());
  idle(again);
  EXPECT_GT(again.first(), 1U);
  EXPECT_FALSE(again.full());
}

// A flash that has lost its power refuses everything: no page is charged with that.
TEST_F(WornFlash, NoPageIsRetiredWhenNoneAnswers) {
  Store store = idled();
  ASSERT_TRUE(work(store, 3));
  flash.cut_at(1, Damage::nothing, 1);
  EXPECT_EQ(shadow.append(store, 1), Error::flash);
  EXPECT_FALSE(store.service());
  EXPECT_EQ(store.retired_pages(), 0U);
}

TEST_F(WornFlash, CountsItsSparePages) {
  for (std::uint32_t n = 0; n <= region.spare_pages; ++n) {
    flash.wears_out_after(2 * n + 1, 0);
    Store store = idled();
    ASSERT_TRUE(work(store, 60)) << "a refused start is the app's; the log goes on";
    EXPECT_EQ(store.retired_pages(), n + 1);
    EXPECT_EQ(store.worn_out(), n == region.spare_pages);
  }
}

// The whole life of a small part whose pages take 300 erases, give or take 1 %, with a reboot or a power cut
// after each few records.
TEST_F(WornFlash, IsWornEvenlyToItsEndAndThenRefuses) {
  Noise noise{7};
  for (std::uint32_t p = 0; p < pages; ++p) {
    flash.wears_out_after(p, 297 + noise() % 7);
  }
  std::uint64_t cuts = 0, spare_used_up_at = 0;
  bool going = true;
  for (boot = 1; going; ++boot) {
    if (boot % 3 == 0) {
      flash.cut_at(1 + noise() % 400, all_damages[noise() % all_damages.size()], noise());
    }
    Store store = idled();
    going = work(store, 12);
    if (!flash.powered()) {
      flash.power_on();
      ++cuts;
      going = true;
      Store after = idled();
      ASSERT_EQ(shadow.compare(after).lost, 0U) << "boot " << boot;
    }
    spare_used_up_at = store.worn_out() && spare_used_up_at == 0 ? flash.operations() : spare_used_up_at;
    ASSERT_LT(boot, 20'000U) << "no end";
  }
  flash.cut_at(UINT64_MAX / 2, Damage::nothing, 1);
  std::uint64_t sum = 0, most = 0;
  for (std::uint32_t p = 0; p < pages; ++p) {
    sum += flash.erases(p);
    most = std::max(most, flash.erases(p));
  }
  const double spread = static_cast<double>(most * pages) / static_cast<double>(sum);
  Store store = idled();
  std::cout << shadow.acknowledged() << " records, " << boot << " boots, " << cuts << " power cuts; "
            << store.retired_pages() << " of " << pages << " pages retired at the end; erases " << sum
            << ", most " << most << " of a page, most over mean " << std::setprecision(4) << spread << "\n";
  EXPECT_LE(spread, 1.05);
  EXPECT_GT(cuts, 300U);
  EXPECT_TRUE(store.worn_out());
  EXPECT_NE(spare_used_up_at, 0U);
  EXPECT_TRUE(store.full());
  EXPECT_EQ(store.append(Bytes(record::record_body_max), boot, 1).error, Error::full);
  EXPECT_FALSE(store.service());
  expect_nothing_wrong(store);
}

}  // namespace
}  // namespace strandproof::test
