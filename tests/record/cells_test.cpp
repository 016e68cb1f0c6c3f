// The cells: old or new at every cut, never neither, never a mixture.
#include "firmware/record/cells.hpp"

#include <gtest/gtest.h>

#include <iostream>
#include <map>
#include <string>
#include <unordered_set>

#include "tests/record/nasty_flash.hpp"

namespace strandproof::test {
namespace {

using record::CellId;
using record::Cells;
using Bytes = std::vector<std::uint8_t>;

constexpr std::uint32_t page = 2048;
constexpr std::uint32_t flash_pages = 2 * record::cell_count;

NastyFlash make(std::uint32_t word_size) {
  return {flash_pages, page, word_size};
}

// Every byte depends on the version: a mixture of two versions equals neither.
Bytes value(CellId id, std::uint32_t version) {
  constexpr std::uint32_t lengths[record::cell_count]{36, 1000, 1040, 1,   20, 300, 8,
                                                      64, 4,    24,   192, 8,  136, 32};
  Bytes bytes(lengths[static_cast<unsigned>(id)]);
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    bytes[i] = static_cast<std::uint8_t>(version * 31U + i + static_cast<unsigned>(id));
  }
  return bytes;
}

Bytes read(const Cells& cells, CellId id) {
  Bytes into(record::cell_size_max);
  into.resize(cells.read(id, into));
  return into;
}

constexpr std::array worked_on{CellId::boot_counter, CellId::clock, CellId::table_slot_a};

// What the caller knows: the last version that write() acknowledged, and the one that was under way.
struct Known {
  std::map<CellId, std::uint32_t> acknowledged;
  CellId at_work = CellId::load_state;
  std::uint32_t attempt = 0;
};

// Fills the journals of three cells several times over. Stops where the power does.
void workload(NastyFlash& flash, Known& known) {
  Cells cells{flash, 0};
  if (!cells.mount()) {
    return;
  }
  for (std::uint32_t version = 1; version <= 24; ++version) {
    for (const CellId id : worked_on) {
      if (id == CellId::table_slot_a && version % 5 != 0) {
        continue;
      }
      known.at_work = id;
      known.attempt = version;
      if (!cells.write(id, value(id, version))) {
        return;
      }
      known.acknowledged[id] = version;
    }
    if (version % 4 == 0) {
      (void)cells.service();
    }
  }
}

// True if every cell reads as the caller may expect; the newest of two is then what it stays at.
testing::AssertionResult old_or_new(const Cells& cells, Known& known) {
  for (const CellId id : worked_on) {
    const Bytes got = read(cells, id);
    const auto old = known.acknowledged.find(id);
    const Bytes before = old == known.acknowledged.end() ? Bytes{} : value(id, old->second);
    if (id == known.at_work && got == value(id, known.attempt)) {
      known.acknowledged[id] = known.attempt;
    } else if (got != before) {
      return testing::AssertionFailure() << "cell " << static_cast<int>(id) << " is neither old nor new";
    }
  }
  return testing::AssertionSuccess();
}

class CellsPowerCut : public testing::TestWithParam<std::uint32_t> {};
INSTANTIATE_TEST_SUITE_P(Words, CellsPowerCut, testing::Values(4U, 8U));

TEST_P(CellsPowerCut, LeavesTheOldValueOrTheNew) {
  std::uint64_t operations = 0;
  {
    NastyFlash flash = make(GetParam());
    Known known;
    workload(flash, known);
    operations = flash.operations();
    ASSERT_EQ(known.acknowledged[CellId::boot_counter], 24U);
    ASSERT_GE(flash.erases(2 * static_cast<unsigned>(CellId::table_slot_a)), 2U)
        << "the pages must change places";
  }
  std::uint64_t cuts = 0;
  std::unordered_set<std::string> images;
  for (const Damage damage : all_damages) {
    for (std::uint64_t n = 1; n <= operations; ++n) {
      NastyFlash flash = make(GetParam());
      Known known;
      flash.cut_at(n, damage, n);
      workload(flash, known);
      ASSERT_FALSE(flash.powered()) << "the cut never came: " << n;
      ++cuts;
      images.insert(std::string{flash.image()});
      flash.power_on();
      for (int boot = 0; boot < 2; ++boot) {  // twice: what one boot reads the next one reads too
        Cells cells{flash, 0};
        ASSERT_TRUE(cells.mount());
        ASSERT_TRUE(old_or_new(cells, known))
            << "damage " << static_cast<int>(damage) << " cut " << n << " boot " << boot;
        known.at_work = CellId::load_state;
      }
      Cells cells{flash, 0};
      ASSERT_TRUE(cells.mount());
      for (const CellId id : worked_on) {
        ASSERT_TRUE(cells.write(id, value(id, 99))) << "damage " << static_cast<int>(damage) << " cut " << n;
      }
      Cells again{flash, 0};
      ASSERT_TRUE(again.mount());
      for (const CellId id : worked_on) {
        ASSERT_EQ(read(again, id), value(id, 99)) << "damage " << static_cast<int>(damage) << " cut " << n;
      }
    }
  }
  std::cout << "words of " << GetParam() << ": " << cuts << " cuts = " << operations << " operations x "
            << all_damages.size() << " damages, " << images.size() << " distinct images\n";
  EXPECT_EQ(cuts, operations * all_damages.size());
  EXPECT_GT(images.size(), operations);
}

TEST(Cells, KeepsEveryCellApart) {
  NastyFlash flash = make(8);
  Cells cells{flash, 0};
  ASSERT_TRUE(cells.mount());
  for (unsigned i = 0; i < record::cell_count; ++i) {
    const auto id = static_cast<CellId>(i);
    EXPECT_TRUE(read(cells, id).empty());
    ASSERT_TRUE(cells.write(id, value(id, 1)));
    ASSERT_TRUE(cells.write(id, value(id, 2)));
  }
  Cells again{flash, 0};
  ASSERT_TRUE(again.mount());
  for (unsigned i = 0; i < record::cell_count; ++i) {
    EXPECT_EQ(read(again, static_cast<CellId>(i)), value(static_cast<CellId>(i), 2)) << i;
  }
}

TEST(Cells, RefusesWhatDoesNotFit) {
  NastyFlash flash = make(8);
  EXPECT_FALSE((Cells{flash, 8}.mount()));
  EXPECT_FALSE((Cells{flash, page}.mount()));
  NastyFlash small{64, 1024, 8};  // a page that does not hold the longest value
  EXPECT_FALSE((Cells{small, 0}.mount()));
  Cells cells{flash, 0};
  EXPECT_FALSE(cells.write(CellId::clock, Bytes(8))) << "before mount";
  ASSERT_TRUE(cells.mount());
  EXPECT_FALSE(cells.write(CellId::clock, Bytes{}));
  EXPECT_FALSE(cells.write(CellId::clock, Bytes(record::cell_size_max + 1)));
  ASSERT_TRUE(cells.write(CellId::clock, Bytes(20, 1)));
  Bytes short_buffer(19);
  EXPECT_EQ(cells.read(CellId::clock, short_buffer), 0U);
}

// With service() in between, no write() waits for an erase.
TEST(Cells, ServiceErasesAhead) {
  NastyFlash flash = make(8);
  Cells cells{flash, 0};
  ASSERT_TRUE(cells.mount());
  const auto erases = [&] {
    std::uint64_t sum = 0;
    for (std::uint32_t p = 0; p < flash_pages; ++p) {
      sum += flash.erases(p);
    }
    return sum;
  };
  for (std::uint32_t version = 0; version < 200; ++version) {
    while (cells.service()) {
    }
    const std::uint64_t before = erases();
    ASSERT_TRUE(cells.write(CellId::boot_counter, value(CellId::boot_counter, version)));
    ASSERT_EQ(erases(), before) << version;
  }
  EXPECT_GE(erases(), record::cell_count + 200U / (page / record::entry_size(8)) - 1U);
}

// A write that does not read back is refused, and the old value stands, also at the next boot.
TEST(Cells, AFlashThatFailsKeepsTheOldValue) {
  NastyFlash flash = make(8);
  Cells cells{flash, 0};
  ASSERT_TRUE(cells.mount());
  ASSERT_TRUE(cells.write(CellId::clock, value(CellId::clock, 1)));
  const std::uint32_t start = 2 * static_cast<std::uint32_t>(CellId::clock) * page;
  flash.stick(start + record::mark_size + record::entry_size(20) + 1);
  EXPECT_FALSE(cells.write(CellId::clock, value(CellId::clock, 2)));
  EXPECT_EQ(read(cells, CellId::clock), value(CellId::clock, 1));
  Cells again{flash, 0};
  ASSERT_TRUE(again.mount());
  EXPECT_EQ(read(again, CellId::clock), value(CellId::clock, 1));
  EXPECT_TRUE(again.write(CellId::clock, value(CellId::clock, 3))) << "goes to the other page";
  EXPECT_EQ(read(again, CellId::clock), value(CellId::clock, 3));
}

// One bit of age in the newest value: the one before it is what is left, never something else.
TEST(Cells, ADamagedValueFallsBackToTheOneBefore) {
  NastyFlash flash = make(8);
  Cells cells{flash, 0};
  ASSERT_TRUE(cells.mount());
  for (const std::uint32_t version : {1U, 2U}) {
    ASSERT_TRUE(cells.write(CellId::clock, value(CellId::clock, version)));
  }
  const std::uint32_t start = 2 * static_cast<std::uint32_t>(CellId::clock) * page;
  const std::uint32_t newest = start + record::mark_size + record::entry_size(20);
  for (std::uint32_t at = newest; at < newest + record::entry_size(20); ++at) {
    NastyFlash aged = flash;
    aged.rot(at, 0x04);
    EXPECT_NE(read(cells, CellId::clock), Bytes{});
    Cells again{aged, 0};
    ASSERT_TRUE(again.mount());
    EXPECT_EQ(read(again, CellId::clock), value(CellId::clock, 1)) << "byte " << at - newest;
  }
}

}  // namespace
}  // namespace strandproof::test
