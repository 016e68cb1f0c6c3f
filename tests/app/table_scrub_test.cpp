// H20: the check sum finds every flipped bit of the live table within a second, whatever uses it.
#include "firmware/app/table_scrub.hpp"

#include <gtest/gtest.h>

#include <cstdio>

#include "tests/control/toy_jack.hpp"

namespace strandproof::app {
namespace {

TEST(TableScrub, H20_EveryFlippedBitIsFoundWithinASecond) {
  const control::ToyJack toy;
  control::GaugeTable table = control::toy_table(toy);
  auto* bytes = reinterpret_cast<std::uint8_t*>(&table);
  TableScrub scrub;
  std::size_t worst = 0;
  for (std::size_t bit = 0; bit < 8 * sizeof table; ++bit) {
    scrub.start(table);
    for (std::size_t i = 0; i < bit % 300; ++i) {  // somewhere on its way round
      scrub.step();
    }
    bytes[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    std::size_t ticks = 0;
    while (!scrub.changed() && ticks < 2000) {
      scrub.step();
      ++ticks;
    }
    bytes[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    worst = std::max(worst, ticks);
    ASSERT_LE(ticks, 1000U) << "bit " << bit;
  }
  std::printf("every bit of %zu bytes, found after %zu ticks at the latest\n", sizeof table, worst);
}

TEST(TableScrub, AnUnchangedTableIsNeverBlamed) {
  const control::ToyJack toy;
  const control::GaugeTable table = control::toy_table(toy);
  TableScrub scrub;
  scrub.step();  // before any table: nothing to say
  scrub.start(table);
  for (int i = 0; i < 10'000; ++i) {
    scrub.step();
    ASSERT_FALSE(scrub.changed());
  }
}

}  // namespace
}  // namespace strandproof::app
