#include "firmware/app/display.hpp"

#include <gtest/gtest.h>

#include <string>

#include "firmware/app/texts.hpp"
#include "tests/control/toy_jack.hpp"

namespace strandproof::app {
namespace {

std::string line(const Display& d, int n) {
  return std::string{d[static_cast<std::size_t>(n)].view()};
}

TEST(Display, IdleShowsTheLoadStateFirstAndTheMenu) {
  control::ToyJack toy;
  control::Controller c{toy.jack, control::default_settings};
  (void)c.tick(toy.inputs());
  Display d;
  compose(d, c, {});
  EXPECT_EQ(line(d, 0), "NO LOAD");
  EXPECT_EQ(line(d, 1), "IDLE > PULL");
  EXPECT_EQ(line(d, 2).substr(0, 20), "BELOW THE TABLE, RAW") << "no force without a table";
}

TEST(Display, UnknownLoadSaysKeepClear) {
  control::ToyJack toy;
  control::Controller c{toy.jack, control::default_settings};
  c.restart(control::LoadState::on_jack, false, false);
  (void)c.tick(toy.inputs());
  Display d;
  compose(d, c, {});
  EXPECT_EQ(line(d, 0), "LOAD NOT KNOWN - KEEP CLEAR");
  EXPECT_EQ(line(d, 1), "STOPPED: POWER WAS LOST UNDER LOAD");
}

TEST(Display, ARefusalSaysWhy) {
  control::ToyJack toy;
  control::Controller c{toy.jack, control::default_settings};
  (void)c.tick(toy.inputs());
  Display d;
  compose(d, c, {.refusal = control::Refusal::table_overdue});
  EXPECT_EQ(line(d, 3), "GAUGE TABLE OVERDUE");
  compose(d, c, {.refusal = control::Refusal::none, .pairing_check = 123456});
  EXPECT_EQ(line(d, 3), "PAIR? 123456 CONFIRM OR RESET");
}

TEST(Line, IsCutAtTheEndOfTheDisplayNotBeyond) {
  Line l;
  l.text("0123456789012345678901234567890123456789 and more");
  EXPECT_EQ(l.view().size(), display_columns);
  l.clear();
  EXPECT_EQ(l.tenths(-5).view(), "-0.5");
  l.clear();
  EXPECT_EQ(l.number(INT32_MIN).view(), "-2147483648");
  l.clear();
  EXPECT_EQ(l.tenths(INT32_MIN).view(), "-214748364.8");
}

// The longest line that each cause can make fits the forty columns.
TEST(Texts, EveryCauseFitsItsLines) {
  for (int n = 0; n < 128; ++n) {
    const auto c = static_cast<control::Cause>(n);
    EXPECT_LE(std::string{"STOPPED: "}.size() + what_of(c).size(), display_columns) << n;
    EXPECT_LE(remedy_of(c).size(), display_columns) << n;
  }
}

}  // namespace
}  // namespace strandproof::app
