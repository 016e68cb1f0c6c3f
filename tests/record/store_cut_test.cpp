// Power cuts at every word programmed and every page erased of a workload, each with every damage model,
// followed by a recovery that must work and go on. Depth two: a second cut at every operation of that
// recovery.
#include <gtest/gtest.h>

#include <iostream>
#include <string>
#include <unordered_set>

#include "tests/record/nasty_flash.hpp"
#include "tests/record/shadow.hpp"

namespace strandproof::test {
namespace {

using record::Error;
using record::Store;

struct Geometry {
  std::uint32_t pages, page_size, word_size;
};
constexpr std::array geometries{Geometry{6, 1024, 4}, Geometry{6, 1024, 8}, Geometry{5, 1536, 4}};

NastyFlash make(const Geometry& g) {
  return {g.pages, g.page_size, g.word_size};
}
record::Region region(const Geometry& g) {
  return {.base = 0, .size = g.pages * g.page_size, .reserve_pages = 1};
}

void idle(Store& store) {
  while (store.service()) {
  }
}

// Three boots that fill the ring, let the host take records, and go once round it. Stops where the power
// does.
void workload(NastyFlash& flash, const Geometry& g, Shadow& shadow) {
  for (std::uint32_t boot = 1; boot <= 3 && flash.powered(); ++boot) {
    Store store{flash, region(g)};
    if (store.mount() != Error::none) {
      return;
    }
    idle(store);
    for (int i = 0; i < 9; ++i) {
      const auto e = shadow.append(store, boot);
      if (e == Error::full) {
        shadow.release(store, shadow.newest_acknowledged());
        idle(store);
      }
    }
    shadow.release(store, shadow.newest_acknowledged() / 2);
    idle(store);
  }
}

// After a cut: mount, keep house, write on, and mount again. Stops where the power does.
void recovery(NastyFlash& flash, const Geometry& g, Shadow& shadow) {
  Store store{flash, region(g)};
  if (store.mount() != Error::none) {
    return;
  }
  idle(store);
  for (int i = 0; i < 2; ++i) {
    (void)shadow.append(store, 9);
  }
}

struct Totals {
  std::uint64_t cuts = 0, operations = 0, wrong = 0;
  std::unordered_set<std::string> images;
};

void check(NastyFlash& flash, const Geometry& g, Shadow& shadow, Totals& totals, const std::string& where) {
  Store store{flash, region(g)};
  ASSERT_EQ(store.mount(), Error::none) << where;
  const auto counts = shadow.compare(store);
  totals.wrong += counts.lost + counts.invented + counts.doubled + counts.unordered;
  EXPECT_EQ(counts.lost, 0U) << where;
  EXPECT_EQ(counts.invented, 0U) << where;
  EXPECT_EQ(counts.doubled, 0U) << where;
  EXPECT_EQ(counts.unordered, 0U) << where;
  EXPECT_GT(store.next_sequence(), shadow.newest_acknowledged()) << where;
}

std::uint64_t operations_of_workload(const Geometry& g) {
  NastyFlash flash = make(g);
  Shadow shadow;
  workload(flash, g, shadow);
  EXPECT_GE(shadow.acknowledged(), 22U) << "the workload must write more than a handful";
  EXPECT_GE(flash.erases(0), 2U) << "the workload must go round the ring";
  return flash.operations();
}

std::string place(const Geometry& g) {
  return std::to_string(g.pages) + " pages of " + std::to_string(g.page_size) + ", words of " +
         std::to_string(g.word_size);
}
std::string place(const Geometry& g, Damage damage, std::uint64_t n) {
  return place(g) + ", damage " + std::to_string(static_cast<int>(damage)) + ", cut " + std::to_string(n);
}

class StorePowerCut : public testing::TestWithParam<Geometry> {};
INSTANTIATE_TEST_SUITE_P(Geometries, StorePowerCut, testing::ValuesIn(geometries), [](const auto& it) {
  return std::to_string(it.param.page_size) + "_" + std::to_string(it.param.word_size);
});

TEST_P(StorePowerCut, LosesNoAcknowledgedRecord) {
  const Geometry& g = GetParam();
  Totals totals;
  totals.operations = operations_of_workload(g);
  for (const Damage damage : all_damages) {
    for (std::uint64_t n = 1; n <= totals.operations && totals.wrong == 0; ++n) {
      NastyFlash flash = make(g);
      Shadow shadow;
      flash.cut_at(n, damage, n);
      workload(flash, g, shadow);
      ASSERT_FALSE(flash.powered()) << "the cut never came: " << place(g, damage, n);
      ++totals.cuts;
      totals.images.insert(std::string{flash.image()});
      flash.power_on();
      check(flash, g, shadow, totals, place(g, damage, n) + ", at once");
      recovery(flash, g, shadow);
      for (int boot = 0; boot < 3; ++boot) {  // what one boot shows, the next ones show too
        check(flash, g, shadow, totals, place(g, damage, n) + ", after writing on");
      }
    }
  }
  std::cout << place(g) << ": " << totals.cuts << " cuts = " << totals.operations << " operations x "
            << all_damages.size() << " damages, " << totals.images.size() << " distinct images, "
            << totals.wrong << " records lost, invented, doubled or out of order\n";
  EXPECT_EQ(totals.cuts, totals.operations * all_damages.size());
  EXPECT_GT(totals.images.size(), totals.operations) << "cuts that leave the same image prove little";
}

// A share of the places of the first cut, for time; every place of the second.
TEST_P(StorePowerCut, SurvivesASecondCutInTheRecovery) {
  const Geometry& g = GetParam();
  const std::uint64_t operations = operations_of_workload(g);
  const std::uint64_t step = g.word_size == 4 ? 27 : 9;
  Totals totals;
  for (const Damage damage : {Damage::bits, Damage::scattered, Damage::weak}) {
    for (std::uint64_t n = 1; n <= operations && totals.wrong == 0; n += step) {
      bool cut = true;
      for (std::uint64_t second = 1; cut; ++second) {
        NastyFlash flash = make(g);
        Shadow shadow;
        flash.cut_at(n, damage, n);
        workload(flash, g, shadow);
        flash.power_on();
        flash.cut_at(second, damage, second);
        recovery(flash, g, shadow);
        cut = !flash.powered();  // else the recovery took fewer operations than this
        totals.cuts += cut ? 1 : 0;
        totals.images.insert(std::string{flash.image()});
        flash.power_on();
        recovery(flash, g, shadow);
        check(flash, g, shadow, totals, place(g, damage, n) + " then " + std::to_string(second));
      }
    }
  }
  std::cout << place(g) << ": " << totals.cuts << " double cuts, " << totals.images.size()
            << " distinct images, " << totals.wrong << " records lost, invented, doubled or out of order\n";
  EXPECT_GT(totals.cuts, 3000U);
}

}  // namespace
}  // namespace strandproof::test
