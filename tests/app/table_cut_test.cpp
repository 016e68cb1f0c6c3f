// Power is cut at every flash operation of a load, an undo, a withdrawal, an enrolment, a revocation and a
// part change, with every damage that the nasty flash knows, on fresh pages and on full ones: at the next
// power on one valid table is active, the old or the new one, whole; and what was to be refused is refused.
#include <gtest/gtest.h>

#include <cstdio>
#include <functional>

#include "tests/app/shelf_bench.hpp"

namespace strandproof::app {
namespace {

using control::Refusal;
using test::Damage;
using test::NastyFlash;

struct Act {
  const char* name;
  std::function<void(Life&, std::uint32_t last)> act;  // `last`: the active revision before it
  std::function<bool(const Life&, std::uint32_t last)> old_state, new_state;
};

bool uses(const Life& l, std::uint32_t revision) {
  const auto t = l.tables();
  return l.in_use() == revision && t.active != 0 &&
         slot_bytes(l.shelf, t.active) == signed_by(table_message(revision)).bytes;
}

const std::vector<Act>& acts() {
  static const std::vector<Act> all{
      {"load", [](Life& l, std::uint32_t last) { (void)l.load(last + 1); },
       [](const Life& l, std::uint32_t last) { return uses(l, last) && l.shelf.bar() == Refusal::none; },
       [](const Life& l, std::uint32_t last) { return uses(l, last + 1) && l.shelf.bar() == Refusal::none; }},
      {"undo", [](Life& l, std::uint32_t last) { (void)l.undo(last, last - 1); },
       [](const Life& l, std::uint32_t last) { return uses(l, last) && l.shelf.bar() == Refusal::none; },
       [](const Life& l, std::uint32_t last) { return uses(l, last - 1) && l.shelf.bar() == Refusal::none; }},
      {"withdraw", [](Life& l, std::uint32_t last) { (void)l.withdraw(last); },
       [](const Life& l, std::uint32_t last) { return uses(l, last) && l.shelf.bar() == Refusal::none; },
       [](const Life& l, std::uint32_t last) {
         return uses(l, last) && l.shelf.bar() == Refusal::table_withdrawn;
       }},
      {"part changed", [](Life& l, std::uint32_t) { (void)l.shelf.part_changed(Part::hose, 0); },
       [](const Life& l, std::uint32_t last) { return uses(l, last) && l.shelf.bar() == Refusal::none; },
       [](const Life& l, std::uint32_t last) {
         return uses(l, last) && l.shelf.bar() == Refusal::part_changed;
       }},
      {"enrol", [](Life& l, std::uint32_t) { (void)l.shelf.enrol(enrolment(3)); },
       [](const Life& l, std::uint32_t last) {
         return uses(l, last) && l.shelf.key_count() == 2 && !l.shelf.enrolled(enrolment(3));
       },
       [](const Life& l, std::uint32_t last) {
         return uses(l, last) && l.shelf.key_count() == 3 && l.shelf.enrolled(enrolment(3));
       }},
      {"revoke", [](Life& l, std::uint32_t) { (void)l.shelf.revoke(1); },
       [](const Life& l, std::uint32_t last) {
         return uses(l, last) && l.shelf.key_count() == 2 && l.shelf.enrolled(enrolment(2));
       },
       [](const Life& l, std::uint32_t last) {
         return uses(l, last) && l.shelf.key_count() == 1 && !l.shelf.enrolled(enrolment(2));
       }},
  };
  return all;
}

// A jack with two keys and `loads` tables behind it.
NastyFlash prepared(std::uint32_t loads) {
  NastyFlash flash = shelf_flash();
  Life l{flash};
  EXPECT_TRUE(l.shelf.enrol(enrolment(1)));
  EXPECT_TRUE(l.shelf.enrol(enrolment(2)));
  for (std::uint32_t r = 1; r <= loads; ++r) {
    EXPECT_EQ(l.load(r), link::Code::none);
  }
  return flash;
}

class TableCut : public testing::TestWithParam<std::size_t> {};
INSTANTIATE_TEST_SUITE_P(Acts, TableCut, testing::Range<std::size_t>(0, 6));

TEST_P(TableCut, OneValidTableIsActiveAtEveryCut) {
  const Act& a = acts()[GetParam()];
  std::uint64_t cuts = 0, olds = 0, news = 0;
  // Two loads: pages fresh. 42 loads: the page of the switching cell is full, so that it changes pages too.
  for (const std::uint32_t loads : {2U, 42U}) {
    const NastyFlash ready = prepared(loads);
    std::uint64_t operations = 0;
    {
      NastyFlash flash = ready;
      Life l{flash};
      const std::uint64_t before = flash.operations();
      a.act(l, loads);
      operations = flash.operations() - before;
      ASSERT_TRUE(a.new_state(l, loads)) << "uncut it must be done";
    }
    ASSERT_GT(operations, 3U);
    for (const Damage damage : test::all_damages) {
      for (std::uint64_t n = 1; n <= operations; ++n, ++cuts) {
        NastyFlash flash = ready;
        {
          Life l{flash};
          flash.cut_at(n, damage, n);
          a.act(l, loads);
          ASSERT_FALSE(flash.powered()) << "the cut never came";
        }
        flash.power_on();
        const bool is_new = a.new_state(Life{flash}, loads);
        (is_new ? news : olds) += 1;
        for (int boots = 0; boots < 2; ++boots) {  // what one power on reads the next ones read too
          const Life l{flash};
          ASSERT_TRUE(is_new ? a.new_state(l, loads) : a.old_state(l, loads))
              << a.name << ", damage " << static_cast<int>(damage) << ", cut " << n << " of " << operations
              << ", power on " << boots << ": in use " << l.in_use() << ", bar "
              << static_cast<int>(l.shelf.bar());
        }
        Life after{flash};
        ASSERT_EQ(after.load(loads + 2), link::Code::none) << "and it can be loaded again";
        ASSERT_TRUE(uses(after, loads + 2));
      }
    }
  }
  std::printf("%s: %llu cuts, %llu times the old state, %llu times the new one\n", a.name,
              static_cast<unsigned long long>(cuts), static_cast<unsigned long long>(olds),
              static_cast<unsigned long long>(news));
  EXPECT_GT(olds, 0U);
  EXPECT_GT(news, 0U);
}

}  // namespace
}  // namespace strandproof::app
