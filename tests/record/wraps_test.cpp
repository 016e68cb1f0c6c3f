// Order when counters go over the powers of two at which narrower ones would wrap (H35), and at the end of
// the numbers. A log in which so many turns and records have gone before is made by its bytes in README.md.
#include <ostream>

#include "tests/record/cut_lab.hpp"
#include "tests/record/layout.hpp"

namespace strandproof::test {
namespace {

using record::Error;
using record::Store;

constexpr Geometry geometry{7, 1024, 8};

// One open page, empty, of this turn.
void open(NastyFlash& flash, std::uint64_t turn, std::uint64_t first_sequence) {
  const auto at = static_cast<std::uint32_t>((turn - 1) % geometry.pages * geometry.page_size);
  ASSERT_TRUE(flash.program(at, open_page_bytes(geometry.pages, turn, first_sequence)));
}

// Where one counter is about to pass the value at which it would wrap if it had so many bits.
struct Start {
  const char* name;
  std::uint64_t turn, sequence, tick;
  std::uint32_t boot;
};
constexpr std::uint64_t before(unsigned bits, std::uint64_t by) {
  return (1ULL << bits) - by;
}
constexpr std::array starts{
    Start{"sequence_16", 9, before(16, 5), 1, 1},
    Start{"sequence_31", 9, before(31, 5), 1, 1},
    Start{"sequence_32", 9, before(32, 5), 1, 1},
    Start{"sequence_48", 9, before(48, 5), 1, 1},
    Start{"turn_16", before(16, 1), 1000, 1, 1},
    Start{"turn_31", before(31, 1), 1000, 1, 1},
    Start{"turn_32", before(32, 1), 1000, 1, 1},
    Start{"turn_48", before(48, 1), 1000, 1, 1},
    Start{"milliseconds_16", 9, 1000, before(16, 900), 1},
    Start{"milliseconds_31", 9, 1000, before(31, 900), 1},
    Start{"milliseconds_32", 9, 1000, before(32, 900), 1},
    Start{"microseconds_32", 9, 1000, before(32, 0) / 1000 - 900, 1},
    Start{"ten_milliseconds_31", 9, 1000, before(31, 0) * 10 - 900, 1},
    Start{"boot_16", 9, 1000, 1, 65'534},
    Start{"boot_31", 9, 1000, 1, 0x7FFF'FFFE},
    Start{"boot_32", 9, 1000, 1, 0xFFFF'FFFE},
    Start{"all_at_once", before(32, 1), before(32, 5), before(32, 900), 0xFFFF'FFFE},
};
void PrintTo(const Start& s, std::ostream* out) {
  *out << s.name;
}

struct Made {
  std::uint64_t sequence, tick;
  std::uint32_t boot;
  friend bool operator==(const Made&, const Made&) = default;
};

std::vector<Made> all(Store& store) {
  std::vector<Made> found;
  record::RecordHeader header;
  Bytes body(record::record_body_max);
  for (std::uint64_t from = 0; store.read_from(from, header, body).error == Error::none;
       from = header.sequence + 1) {
    found.push_back({header.sequence, header.tick, header.boot});
  }
  return found;
}

class Wraps : public testing::TestWithParam<Start> {};
INSTANTIATE_TEST_SUITE_P(Counters, Wraps, testing::ValuesIn(starts),
                         [](const auto& it) { return it.param.name; });

// Four boots, each a second or so of records, the boot counter as the app counts it. What is read is what was
// handed in, in that order, by the log's own numbers: neither tick nor boot has a say in it.
TEST_P(Wraps, OrderIsNeverWrong) {
  const Start& s = GetParam();
  NastyFlash flash = geometry.flash();
  open(flash, s.turn, s.sequence);
  std::vector<Made> made;
  std::uint32_t boot = s.boot;
  for (int n = 0; n < 4; ++n, ++boot) {
    Store store{flash, geometry.region()};
    ASSERT_EQ(store.mount(), Error::none);
    EXPECT_EQ(all(store), made);
    idle(store);
    for (std::uint64_t tick = s.tick; tick < s.tick + 1500; tick += 500) {
      const auto done = store.append(Bytes(200), boot, tick);
      ASSERT_EQ(done.error, Error::none);
      made.push_back({done.sequence, tick, boot});
    }
    EXPECT_EQ(all(store), made);
  }
  EXPECT_EQ(made.front().sequence, s.sequence);
  EXPECT_EQ(made.back().sequence, s.sequence + made.size() - 1);
}

// The same with a host that takes the records, so that the ring goes round over the wrap; and a cut in each
// boot.
TEST_P(Wraps, NothingIsLostWhenTheRingGoesRoundOverIt) {
  const Start& s = GetParam();
  NastyFlash flash = geometry.flash();
  open(flash, s.turn, s.sequence);
  Shadow shadow;
  for (std::uint32_t n = 0; n < 40; ++n) {
    Store store{flash, geometry.region()};
    ASSERT_EQ(store.mount(), Error::none);
    const auto counts = shadow.compare(store);
    ASSERT_EQ(counts.lost + counts.invented + counts.doubled + counts.unordered, 0U) << "boot " << n;
    idle(store);
    (void)shadow.append(store, s.boot + n);
    shadow.release(store, shadow.newest_acknowledged() - 1);
    idle(store);
    flash.cut_at(1 + n % 17, all_damages[n % all_damages.size()], n);
    (void)shadow.append(store, s.boot + n);
    flash.power_on();
  }
  EXPECT_GE(shadow.acknowledged(), 40U);
  EXPECT_GT(shadow.newest_acknowledged(), s.sequence + 40);
}

TEST(WrapsEnd, ALogAtTheEndOfItsNumbersIsFullAndReadable) {
  NastyFlash flash = geometry.flash();
  open(flash, 9, record::number_max - 2);
  Store store{flash, geometry.region()};
  ASSERT_EQ(store.mount(), Error::none);
  EXPECT_EQ(store.append(Bytes(4), 1, 1).sequence, record::number_max - 2);
  EXPECT_EQ(store.append(Bytes(4), 1, 1).sequence, record::number_max - 1);
  EXPECT_EQ(store.append(Bytes(4), 1, 1).error, Error::full);
  EXPECT_EQ(all(store).size(), 2U);
  NastyFlash turned = geometry.flash();
  open(turned, record::number_max, 1000);
  Store last{turned, geometry.region()};
  ASSERT_EQ(last.mount(), Error::none);
  EXPECT_EQ(last.append(Bytes(4), 1, 1).error, Error::full);
}

}  // namespace
}  // namespace strandproof::test
