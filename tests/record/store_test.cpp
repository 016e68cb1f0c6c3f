// The log's rules one by one; the power cuts have a file of their own.
#include "firmware/record/store.hpp"

#include <gtest/gtest.h>

#include <random>

#include "tests/record/layout.hpp"
#include "tests/record/nasty_flash.hpp"
#include "tests/record/shadow.hpp"

namespace strandproof::test {
namespace {

using record::Error;
using record::Priority;
using record::RecordHeader;
using record::Region;
using record::Store;

constexpr std::uint32_t page = 4096;

void idle(Store& store) {
  while (store.service()) {
  }
}

class StoreTest : public testing::Test {
 protected:
  [[nodiscard]] Store mounted() {
    Store store{flash, region};
    EXPECT_EQ(store.mount(), Error::none);
    return store;
  }
  [[nodiscard]] Store idled() {
    Store store = mounted();
    idle(store);
    return store;
  }

  NastyFlash flash{8, page, 8};
  Region region{.base = 0, .size = 8 * page, .reserve_pages = 1};
  Shadow shadow;
};

TEST_F(StoreTest, GivesBackWhatItWasGiven) {
  Store store = idled();
  const Bytes body{1, 2, 3, 4, 5};
  const auto done = store.append(body, 7, 123'456'789'012, Priority::fault);
  ASSERT_EQ(done.error, Error::none);
  EXPECT_EQ(done.sequence, 1U);
  RecordHeader header;
  Bytes into(record::record_body_max);
  const auto got = store.read(1, header, into);
  ASSERT_EQ(got.error, Error::none);
  EXPECT_EQ((Bytes{into.begin(), into.begin() + got.size}), body);
  EXPECT_EQ(header.boot, 7U);
  EXPECT_EQ(header.tick, 123'456'789'012U);
  EXPECT_EQ(header.kind, static_cast<std::uint8_t>(Priority::fault));
}

TEST_F(StoreTest, WritesTheBytesThatTheLayoutPromises) {
  Store store = idled();
  ASSERT_EQ(store.append(Bytes{0xA1, 0xA2, 0xA3}, 0x01020304, 0x05).error, Error::none);
  Bytes expected = open_page_bytes(8, 1, 1);
  expected.resize(88 + 32 + 8, 0);
  std::fill_n(expected.begin() + 80, 8, std::uint8_t{0xFF});  // not released
  std::uint8_t* entry = &expected[88];
  entry[0] = 1;                                                // sequence
  entry[8] = 5;                                                // tick
  entry[16] = 4, entry[17] = 3, entry[18] = 2, entry[19] = 1;  // boot
  entry[20] = 3;                                               // length
  entry[24] = 0xA1, entry[25] = 0xA2, entry[26] = 0xA3;        // body and its zeros
  proto::put_u32(crc_by_definition({entry, 32}), entry + 32);
  for (std::size_t i = 0; i < expected.size(); ++i) {
    ASSERT_EQ(static_cast<std::uint8_t>(flash.image()[i]), expected[i]) << "byte " << i;
  }
}

// The list of retired pages is in the header of the next page that opens.
TEST_F(StoreTest, WritesTheRetiredPagesIntoEachHeader) {
  flash.stick(3);               // ready mark of page 0
  flash.wears_out_after(6, 0);  // erases of page 6
  Store store = idled();
  ASSERT_EQ(shadow.append(store, 1), Error::none);
  EXPECT_EQ(static_cast<std::uint8_t>(flash.image()[page + 32]), 0x41);
  EXPECT_EQ(store.retired_pages(), 2U);
}

TEST_F(StoreTest, RefusesABodyThatIsTooLongAndABufferThatIsTooShort) {
  Store store = idled();
  EXPECT_EQ(store.append(Bytes(449), 1, 1).error, Error::too_long);
  ASSERT_EQ(store.append(Bytes(448), 1, 1).error, Error::none);
  RecordHeader header;
  Bytes into(447);
  EXPECT_EQ(store.read(1, header, into).error, Error::too_long);
  EXPECT_EQ(header.length, 448U);
}

TEST_F(StoreTest, AnswersBeforeMountAndForNumbersItDoesNotHave) {
  Store unmounted{flash, region};
  RecordHeader header;
  EXPECT_EQ(unmounted.append(Bytes(4), 1, 1).error, Error::not_mounted);
  EXPECT_EQ(unmounted.read(1, header, {}).error, Error::not_mounted);
  EXPECT_EQ(unmounted.free_records(), 0U);
  Store store = idled();
  EXPECT_EQ(store.first(), 0U);
  EXPECT_EQ(store.last(), 0U);
  EXPECT_EQ(store.read(1, header, {}).error, Error::absent);
}

TEST_F(StoreTest, RefusesAGeometryThatDoesNotFit) {
  const auto mount = [&](Region r) { return Store{flash, r}.mount(); };
  EXPECT_EQ(mount({.base = 8, .size = 8 * page}), Error::geometry);
  EXPECT_EQ(mount({.base = page, .size = 8 * page}), Error::geometry);
  EXPECT_EQ(mount({.base = 0, .size = 8 * page + 8}), Error::geometry);
  EXPECT_EQ(mount({.base = 0, .size = 4 * page, .reserve_pages = 1}), Error::geometry);
  EXPECT_EQ(mount({.base = 0, .size = 5 * page, .reserve_pages = 1}), Error::none);
}

// Appending never erases: with no page ready there is no room, and service() makes some.
TEST_F(StoreTest, ErasesInServiceOnly) {  // H32
  Store store = mounted();
  EXPECT_TRUE(store.full());
  EXPECT_EQ(store.append(Bytes(4), 1, 1).error, Error::full);
  idle(store);
  EXPECT_EQ(store.free_records(), 7U * 8U);  // 7 pages beyond the reserve, 8 records of 488 bytes in 4008
  const auto erases = [&] {
    std::uint64_t sum = 0;
    for (std::uint32_t p = 0; p < 8; ++p) {
      sum += flash.erases(p);
    }
    return sum;
  };
  const std::uint64_t before = erases();
  while (shadow.append(store, 1, Priority::fault) == Error::none) {
  }
  EXPECT_EQ(erases(), before);
}

// The promise of free_records(): so many of the longest fit, and not one routine record more.
TEST_F(StoreTest, KeepsTheReserveForFaults) {
  Store store = idled();
  const std::uint32_t promised = store.free_records();
  for (std::uint32_t i = 0; i < promised; ++i) {
    ASSERT_EQ(store.append(Bytes(448), 1, i).error, Error::none) << i;
  }
  EXPECT_TRUE(store.full());
  EXPECT_EQ(store.append(Bytes(448), 1, 0).error, Error::full);
  for (std::uint32_t i = 0; i < 8; ++i) {  // one reserve page
    ASSERT_EQ(store.append(Bytes(448), 1, i, Priority::fault).error, Error::none) << i;
  }
  EXPECT_EQ(store.append(Bytes(448), 1, 0, Priority::fault).error, Error::full);
  EXPECT_EQ(store.last(), promised + 8);
}

TEST_F(StoreTest, AFullLogOfUnreleasedRecordsKeepsThemAll) {
  Store store = idled();
  while (shadow.append(store, 1, Priority::fault) == Error::none) {
  }
  idle(store);
  EXPECT_EQ(shadow.append(store, 1, Priority::fault), Error::full);
  EXPECT_EQ(shadow.compare(store).lost, 0U);
}

TEST_F(StoreTest, ErasesWhatTheHostHoldsAndNothingElse) {
  Store store = idled();
  while (shadow.append(store, 1) == Error::none) {
  }
  const std::uint64_t held = store.last() / 5;
  shadow.release(store, held);
  idle(store);
  EXPECT_FALSE(store.full());
  EXPECT_GT(store.first(), 1U);
  EXPECT_LE(store.first(), held + 1);
  EXPECT_EQ(shadow.compare(store).lost, 0U);
}

TEST_F(StoreTest, AReleaseOutlastsThePower) {
  {
    Store store = idled();
    while (shadow.append(store, 1) == Error::none) {
    }
    shadow.release(store, store.last());
    for (int i = 0; i < 6; ++i) {
      ASSERT_TRUE(store.service());  // the marks of six pages, no erase yet
    }
    EXPECT_EQ(store.first(), 1U);
  }
  Store store = mounted();
  EXPECT_EQ(store.first(), 1U);
  idle(store);
  EXPECT_GT(store.first(), 1U);
}

// The cut leaves the old mark of the page and erases the rest: it must not pass for a page that is erased
// through.
TEST_F(StoreTest, APageWhoseEraseWasCutShortIsErasedAgain) {
  flash.cut_at(2, Damage::scattered, 1);  // 1: the ready mark is taken back
  Store store = mounted();
  EXPECT_FALSE(store.service());
  ASSERT_FALSE(flash.powered());
  flash.power_on();
  Store first_made_ready{flash, region};
  ASSERT_EQ(first_made_ready.mount(), Error::none);
  idle(first_made_ready);
  ASSERT_EQ(flash.erases(0), 1U);
  // The same on a page that bears a mark and has been written to.
  while (shadow.append(first_made_ready, 1) == Error::none) {
  }
  shadow.release(first_made_ready, first_made_ready.last());
  while (flash.erases(0) == 1U && flash.powered()) {
    flash.cut_at(3, Damage::scattered, 1);  // the open mark before it
    if (first_made_ready.service()) {
      continue;  // a released mark is one operation
    }
  }
  ASSERT_FALSE(flash.powered());
  flash.power_on();
  Store again = mounted();
  EXPECT_EQ(again.free_records() / 8, 0U) << "no page is ready but the reserve";
  idle(again);
  EXPECT_EQ(flash.erases(0), 2U);
}

// A cut that leaves the ready mark weak while a ready page is erased anew must not take the page away later,
// when it has been opened and holds records: an open page does not ask for that mark.
TEST_F(StoreTest, AnOpenPageDoesNotNeedItsReadyMark) {
  Store store = idled();
  ASSERT_EQ(shadow.append(store, 1), Error::none);
  for (std::uint32_t at = 0; at < record::mark_size; ++at) {
    flash.rot(at, 0xFF);
  }
  Store again = mounted();
  EXPECT_EQ(shadow.compare(again).kept, 1U);
}

// The cut comes between the header and the open mark of the first page, so that mark may be weak: it is not
// programmed towards zero on the way to the erase.
TEST_F(StoreTest, AnOpenMarkThatMayBeWeakIsNotTakenBack) {
  Store store = idled();
  flash.cut_at(9, Damage::nothing, 1);  // eight words of header, then the mark
  EXPECT_NE(shadow.append(store, 1), Error::none);
  ASSERT_FALSE(flash.powered());
  flash.power_on();
  Store again = mounted();
  unsigned touched = 0;
  flash.watch([&](const NastyFlash::Operation& next) {
    touched += !next.words.empty() && next.address == record::log_page::open_at ? 1U : 0U;
  });
  idle(again);
  EXPECT_EQ(flash.erases(0), 2U);
  EXPECT_EQ(touched, 0U);
}

// An erase that was cut short may leave the header and take the released mark: the page must not wait for a
// release that came long ago.
TEST_F(StoreTest, APageUnderEraseIsNoOpenPageAnyMore) {
  Store store = idled();
  while (shadow.append(store, 1) == Error::none) {
  }
  shadow.release(store, store.last());
  while (flash.powered() && flash.erases(0) == 1) {
    flash.cut_at(3, Damage::nothing, 1);  // behind both marks
    (void)store.service();
  }
  ASSERT_FALSE(flash.powered());
  flash.power_on();
  for (std::uint32_t at = 0; at < record::mark_size; ++at) {
    const std::uint32_t mark = record::log_page::released_at + at;
    flash.rot(mark, static_cast<std::uint8_t>(~flash.image()[mark]));
  }
  Store again = idled();
  EXPECT_EQ(flash.erases(0), 2U);
  EXPECT_EQ(shadow.compare(again).lost, 0U);
}

// Page 2 has lost its mark: those behind it are found ready when their turn comes.
TEST_F(StoreTest, APageThatIsReadyIsNotErasedAgain) {
  (void)idled();
  flash.rot(2 * page, 0xFF);
  Store again = idled();
  for (std::uint32_t p = 0; p < 8; ++p) {
    EXPECT_EQ(flash.erases(p), p == 2 ? 2U : 1U) << p;
  }
  EXPECT_EQ(again.free_records(), 7U * 8U);
}

// Even when everything was fetched and erased that may be, and at every boot.
TEST_F(StoreTest, NumbersRiseForEver) {
  std::uint64_t newest = 0;
  for (std::uint32_t boot = 1; boot <= 200; ++boot) {
    Store store = idled();
    const auto done = store.append(Shadow::body(boot), boot, 1);
    ASSERT_EQ(done.error, Error::none) << boot;
    ASSERT_EQ(done.sequence, newest + 1) << "a clean stop leaves no gap";
    newest = done.sequence;
    store.release(newest);
    idle(store);
  }
}

TEST_F(StoreTest, ReadsAnywhereInAnyOrder) {
  Store store = idled();
  for (int i = 0; i < 100; ++i) {
    ASSERT_EQ(shadow.append(store, 1), Error::none);
  }
  std::mt19937 random{1};
  RecordHeader header;
  Bytes into(448);
  for (int i = 0; i < 1000; ++i) {
    const std::uint64_t wanted = random() % 100 + 1;
    const auto got = store.read(wanted, header, into);
    ASSERT_EQ(got.error, Error::none);
    ASSERT_EQ(header.sequence, wanted);
    ASSERT_EQ((Bytes{into.begin(), into.begin() + got.size}),
              Shadow::body(static_cast<std::uint32_t>(wanted - 1)));
  }
}

// One bit of age in any byte of a record takes that record away and no other.
TEST_F(StoreTest, ADamagedRecordHidesNoOther) {
  Store store = idled();
  for (int i = 0; i < 12; ++i) {
    ASSERT_EQ(shadow.append(store, 1), Error::none);
  }
  const auto start =
      record::log_page::entries_at + record::entry_size(4);  // the second record: 5 bytes of body
  for (std::uint32_t at = start; at < start + record::entry_size(5); ++at) {
    flash.rot(at, 0x10);
    Store again = mounted();
    RecordHeader header;
    Bytes into(448);
    EXPECT_EQ(again.read(2, header, into).error, Error::absent) << "byte " << at - start;
    const auto counts = shadow.compare(again);
    EXPECT_EQ(counts.kept, 11U) << "byte " << at - start;
    EXPECT_EQ(counts.invented, 0U);
    EXPECT_EQ(again.last(), 12U);
    flash.rot(at, 0x10);
  }
}

TEST_F(StoreTest, ADamagedPageHeaderHidesNoRecordOfThePage) {
  Store store = idled();
  while (shadow.append(store, 1) == Error::none) {
  }
  for (std::uint32_t at = 0; at < record::log_page::released_at; ++at) {
    flash.rot(3 * page + at, 0x01);
    Store again = mounted();
    EXPECT_EQ(shadow.compare(again).lost, 0U) << "byte " << at;
    flash.rot(3 * page + at, 0x01);
  }
}

// A cell that keeps its 1 whatever is programmed: read-back finds it, and the record is not acknowledged.
TEST_F(StoreTest, AcknowledgesNothingThatDoesNotReadBack) {
  Store store = idled();
  ASSERT_EQ(shadow.append(store, 1), Error::none);
  const std::uint32_t behind = record::log_page::entries_at + record::entry_size(4);
  flash.stick(behind + 12);  // in the header of the next record, where a 0 is to go
  EXPECT_EQ(shadow.append(store, 1), Error::flash);
  EXPECT_EQ(shadow.append(store, 1), Error::none) << "the next one goes elsewhere";
  const auto counts = shadow.compare(store);
  EXPECT_EQ(counts.kept, 2U);
  EXPECT_EQ(counts.lost, 0U);
  Store again = mounted();
  EXPECT_EQ(shadow.compare(again).kept, 2U);
}

TEST_F(StoreTest, AgreesWithTheShadowOverRandomWork) {
  for (std::uint32_t seed = 1; seed <= 20; ++seed) {
    NastyFlash own{6, 1024, seed % 2 == 0 ? 4U : 8U};
    Shadow model;
    std::mt19937 random{seed};
    const Region r{.base = 0, .size = 6 * 1024, .reserve_pages = 1};
    Store store{own, r};
    ASSERT_EQ(store.mount(), Error::none);
    for (int step = 0; step < 400; ++step) {
      switch (random() % 8) {
        case 0:
          (void)store.service();
          break;
        case 1:
          model.release(store, random() % (store.last() + 1));
          break;
        case 2:
          ASSERT_EQ(store.mount(), Error::none);
          break;
        default:
          (void)model.append(store, 1, random() % 9 == 0 ? Priority::fault : Priority::routine);
      }
    }
    const auto counts = model.compare(store);
    EXPECT_EQ(counts.lost + counts.invented + counts.doubled + counts.unordered, 0U) << "seed " << seed;
    EXPECT_GT(model.acknowledged(), 40U) << "seed " << seed;
  }
}

}  // namespace
}  // namespace strandproof::test
