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
  DisplayExtra extra;
  extra.refusal = control::Refusal::table_overdue;
  compose(d, c, extra);
  EXPECT_EQ(line(d, 3), "GAUGE TABLE OVERDUE");
  extra.refusal = control::Refusal::none;
  extra.pairing_check = 123456;
  compose(d, c, extra);
  EXPECT_EQ(line(d, 3), "PAIR? 123456 CONFIRM OR RESET");
}

// The log's room, where nothing more pressing is to be said; every number fits.
TEST(Display, CountsTheLastPullsThatTheLogHasRoomFor) {
  control::ToyJack toy;
  control::Controller c{toy.jack, control::default_settings};
  (void)c.tick(toy.inputs());
  Display d;
  DisplayExtra extra;
  const auto shown = [&](std::uint32_t pulls, bool wearing) {
    extra.pulls_left = pulls;
    extra.log_wearing = wearing;
    compose(d, c, extra);
    return line(d, 3);
  };
  EXPECT_EQ(shown(11, false), "SELECT OR CONFIRM");
  EXPECT_EQ(shown(10, false), "ROOM FOR 10 PULLS, FETCH INTO 2 COPIES");
  extra.copies_named = 2;
  EXPECT_EQ(shown(10, false), "ROOM FOR 10 PULLS, FETCH THE LOG");
  EXPECT_EQ(shown(0, true), "ROOM FOR 0 PULLS, FETCH THE LOG");
  EXPECT_EQ(shown(11, true), "LOG NEARLY WORN OUT, HAVE IT REPLACED");
  extra.refusal = control::Refusal::store_worn;
  EXPECT_EQ(shown(0, true), "RECORD STORE WORN OUT");
}

// The load state stays in the first line whatever is asked; the longest name and part leave nothing out.
TEST(Display, QuestionsAboutKeysAndPartsFitBelowTheLoadState) {
  control::ToyJack toy;
  control::Controller c{toy.jack, control::default_settings};
  (void)c.tick(toy.inputs());
  Display d;
  DisplayExtra extra;
  extra.subject = "fifteen letters";
  extra.fingerprint = {0x3F, 0x2A, 0x91, 0xC0, 0x77, 0xDE, 0x04, 0xB1};
  const auto shown = [&](DisplayExtra::Ask ask) {
    extra.ask = ask;
    compose(d, c, extra);
    EXPECT_EQ(line(d, 0), "NO LOAD");
    return line(d, 1) + "|" + line(d, 2) + "|" + line(d, 3);
  };
  using enum DisplayExtra::Ask;
  EXPECT_EQ(shown(key_window), "ENROL A TABLE KEY||START IT AT THE HOST NOW");
  EXPECT_EQ(shown(key), "TABLE KEY fifteen letters|3f2a 91c0 77de 04b1|SAME AT THE HOST? CONFIRM OR RESET");
  EXPECT_EQ(shown(revoke_key),
            "REVOKE A TABLE KEY: fifteen letters|3f2a 91c0 77de 04b1|"
            "CONFIRM REVOKES IT AND VOIDS ITS TABLE");
  extra.subject = text_of_part(1);
  EXPECT_EQ(shown(part_changed),
            "PART CHANGED: SENSOR A|VOIDS THE GAUGE TABLE|CONFIRM VOIDS, SELECT NEXT, RESET ENDS");
  extra.subject = {};
  EXPECT_EQ(shown(part_changed), "PART CHANGED|VOIDS THE GAUGE TABLE|SELECT THE PART, RESET ENDS");
  EXPECT_EQ(shown(revoke_key), "REVOKE A TABLE KEY||SELECT A KEY, RESET ENDS");
  EXPECT_EQ(shown(forget_copy), "COPIES OF THE LOG||SELECT, RESET ENDS");
  EXPECT_EQ(shown(copies_needed),
            "COPIES NEEDED: 2|BEFORE A RECORD IS ERASED, FROM NOW ON 1|CONFIRM CHANGES IT, RESET ENDS");
  extra.subject = "twenty-three letters of";
  EXPECT_EQ(shown(forget_copy),
            "FORGET COPY twenty-three letters of|3f2a 91c0 77de 04b1|LOST FOR EVER? CONFIRM FORGETS IT");
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
