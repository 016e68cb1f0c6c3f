// Named copies of the log: a record is erased when enough different ones hold it, and nothing over the link
// changes how many. The power cut at every flash operation of each act frees nothing too early.
#include "firmware/app/copies.hpp"

#include <gtest/gtest.h>

#include <cstdio>
#include <functional>

#include "tests/app/app_bench.hpp"
#include "tests/record/nasty_flash.hpp"

namespace strandproof::app {
namespace {

using link::Code;
using test::NastyFlash;

// One life between two power cuts.
struct Kept {
  explicit Kept(port::Flash& flash) : vault{flash, bench_device()} {
    vault.mount();
    copies.restore();
  }
  Code says(std::uint64_t copy, std::uint64_t up_to, const char* name = "office") {
    strandproof_wire_RecordRelease r = strandproof_wire_RecordRelease_init_zero;
    r.copy = copy;
    r.up_to = up_to;
    std::snprintf(r.name, sizeof r.name, "%s", name);
    return copies.acknowledge(r);
  }
  std::uint64_t mark(std::uint64_t copy) const {
    strandproof_wire_Status s = strandproof_wire_Status_init_zero;
    copies.fill(s);
    for (pb_size_t i = 0; i < s.copies_count; ++i) {
      if (s.copies[i].id == copy) {
        return s.copies[i].up_to;
      }
    }
    return 0;
  }
  Vault vault;
  Copies copies{vault};
};

NastyFlash with_records(unsigned count) {
  NastyFlash flash{2 * record::cell_count + 40, 2048, 8};
  Kept k{flash};
  std::array<std::uint8_t, record::record_body_max> longest{};
  for (unsigned i = 0; i < count; ++i) {
    while (k.vault.log().full() && k.vault.log().service()) {
    }
    EXPECT_EQ(k.vault.log().append(longest, 1, i).error, record::Error::none);
  }
  return flash;
}

TEST(Copies, TwoDifferentOnesMustHoldARecord) {
  NastyFlash flash = with_records(40);
  Kept k{flash};
  EXPECT_EQ(k.copies.needed(), 2U) << "from the first day";
  EXPECT_EQ(k.says(1, 30), Code::none);
  EXPECT_EQ(k.says(1, 35), Code::none) << "the same one twice is one";
  EXPECT_EQ(k.copies.held_up_to(), 0U);
  EXPECT_EQ(k.says(2, 20), Code::none);
  EXPECT_EQ(k.copies.held_up_to(), 20U);
  EXPECT_EQ(k.says(3, 33), Code::none);
  EXPECT_EQ(k.copies.held_up_to(), 33U) << "the second highest";
  EXPECT_EQ(k.says(1, 2), Code::none);
  EXPECT_EQ(k.mark(1), 35U) << "never goes back";
  EXPECT_EQ(k.says(1, 41), Code::no_such_record);
  EXPECT_EQ(k.says(0, 1), Code::malformed);
  EXPECT_EQ(k.says(9, 1, ""), Code::malformed);
  EXPECT_EQ(k.copies.count(), 3U);
}

// The pages themselves: what one copy alone holds stays, what two hold goes, over a power cut in between.
TEST(Copies, APageIsErasedWhenTwoHoldIt) {
  NastyFlash flash = with_records(120);
  const auto room = [&flash] {
    Kept k{flash};
    return k.vault.log().room_records();
  };
  const std::uint32_t at_first = room();
  {
    Kept k{flash};
    ASSERT_EQ(k.says(1, k.vault.log().last()), Code::none);
    while (k.vault.log().service()) {
    }
  }
  EXPECT_EQ(room(), at_first) << "one copy frees nothing";
  {
    Kept k{flash};
    ASSERT_EQ(k.says(2, k.vault.log().last() / 2), Code::none);
  }
  EXPECT_GT(room(), at_first + 40U) << "also after a power cut";
}

TEST(Copies, AFifthNameIsRefusedUntilALostOneIsForgotten) {
  NastyFlash flash = with_records(40);
  Kept k{flash};
  for (std::uint64_t id = 1; id <= 4; ++id) {
    ASSERT_EQ(k.says(id, 10 * id), Code::none);
  }
  EXPECT_EQ(k.says(5, 40), Code::copies_full);
  EXPECT_EQ(k.copies.held_up_to(), 30U);
  ASSERT_TRUE(k.copies.forget(2));
  EXPECT_EQ(k.copies.count(), 3U);
  EXPECT_EQ(k.copies.held_up_to(), 20U) << "what it held counts no more";
  EXPECT_EQ(k.says(5, 1, "new one"), Code::none);
  EXPECT_EQ(k.copies.held_up_to(), 20U) << "the new one has not inherited a mark";
  EXPECT_STREQ(k.copies.at(2).name.data(), "new one");
  EXPECT_EQ(Kept{flash}.mark(5), 1U);
}

TEST(Copies, OneIsEnoughWhereAPersonHasSaidSo) {
  NastyFlash flash = with_records(40);
  {
    Kept k{flash};
    ASSERT_EQ(k.says(1, 30), Code::none);
    ASSERT_TRUE(k.copies.need(1));
    EXPECT_EQ(k.copies.held_up_to(), 30U);
  }
  Kept k{flash};
  EXPECT_EQ(k.copies.needed(), 1U);
  ASSERT_TRUE(k.copies.need(2));
  EXPECT_EQ(k.copies.held_up_to(), 0U);
}

// The pages of the log are laid out anew, the cells stay (a firmware with one more cell does that): what the
// old marks say is of records that are gone, and frees none of the new log.
TEST(Copies, AMarkDoesNotOutliveItsLog) {
  NastyFlash flash = with_records(100);
  {
    Kept k{flash};
    ASSERT_EQ(k.says(1, 90), Code::none);
    ASSERT_EQ(k.says(2, 90), Code::none);
  }
  for (std::uint32_t page = 2 * record::cell_count; page < flash.size() / flash.page_size(); ++page) {
    ASSERT_TRUE(flash.erase(page * flash.page_size()));
  }
  std::array<std::uint8_t, record::record_body_max> longest{};
  {
    Kept k{flash};
    EXPECT_EQ(k.copies.held_up_to(), 0U);
    EXPECT_EQ(k.copies.count(), 2U) << "their names are known still";
    for (unsigned i = 0; i < 95; ++i) {
      while (k.vault.log().full() && k.vault.log().service()) {
      }
      ASSERT_EQ(k.vault.log().append(longest, 1, i).error, record::Error::none);
    }
    ASSERT_GT(k.vault.log().last(), 90U) << "beyond the old marks";
    EXPECT_EQ(k.vault.log().first(), 1U) << "nobody holds it: it is not erased";
  }
  const Kept later{flash};
  EXPECT_EQ(later.copies.held_up_to(), 0U) << "nor when the numbers have passed the old marks";
}

struct Act {
  const char* name;
  std::function<bool(Kept&)> act;
};

const std::vector<Act>& acts() {
  static const std::vector<Act> all{
      {"acknowledge", [](Kept& k) { return k.says(1, 38) == Code::none; }},
      {"name a copy", [](Kept& k) { return k.says(7, 5, "seventh") == Code::none; }},
      {"rename a copy", [](Kept& k) { return k.says(2, 20, "renamed") == Code::none; }},
      {"forget a copy", [](Kept& k) { return k.copies.forget(0); }},
      {"need one", [](Kept& k) { return k.copies.need(1); }},
      {"name one in a place that was another's",
       [](Kept& k) { return k.copies.forget(0) && k.says(8, 3, "eighth") == Code::none; }},
  };
  return all;
}

// What counts as held before and after the act, of each copy.
struct Book {
  std::uint64_t held;
  std::array<std::uint64_t, 10> marks;
  unsigned count, needed;
};
Book book_of(const Kept& k) {
  Book b{k.copies.held_up_to(), {}, k.copies.count(), k.copies.needed()};
  for (std::uint64_t id = 1; id < b.marks.size(); ++id) {
    b.marks[id] = k.mark(id);
  }
  return b;
}

class CopiesCut : public testing::TestWithParam<std::size_t> {};
INSTANTIATE_TEST_SUITE_P(Acts, CopiesCut, testing::Range<std::size_t>(0, 6));

// At every cut of an act each copy's mark is the old or the new one, or 0 where it is given up: never more.
TEST_P(CopiesCut, FreesNothingTooEarly) {
  const Act& a = acts()[GetParam()];
  std::uint64_t cuts = 0, early = 0;
  for (const unsigned before : {0U, 24U, 25U, 26U}) {  // cells fresh, and where they change their pages
    NastyFlash ready = with_records(40);
    {
      Kept k{ready};
      ASSERT_EQ(k.says(1, 30), Code::none);
      ASSERT_EQ(k.says(2, 10), Code::none);
      for (unsigned i = 0; i < before; ++i) {
        ASSERT_EQ(k.says(3, 1 + i, i % 5 == 0 ? "other" : "office"), Code::none);
      }
      ASSERT_EQ(k.says(2, 20), Code::none);
    }
    std::uint64_t operations = 0;
    NastyFlash done = ready;
    Book old{}, later{};
    {
      Kept k{done};
      old = book_of(k);
      const std::uint64_t at = done.operations();
      ASSERT_TRUE(a.act(k));
      operations = done.operations() - at;
      later = book_of(k);
    }
    ASSERT_GT(operations, 3U);
    for (const test::Damage damage : test::all_damages) {
      for (std::uint64_t n = 1; n <= operations; ++n, ++cuts) {
        NastyFlash flash = ready;
        {
          Kept k{flash};
          flash.cut_at(n, damage, n);
          (void)a.act(k);
          ASSERT_FALSE(flash.powered()) << "the cut never came";
        }
        flash.power_on();
        const Book first = book_of(Kept{flash});
        for (int boots = 0; boots < 2; ++boots) {
          const Kept k{flash};
          const Book now = book_of(k);
          early += now.held > std::max(old.held, later.held) ? 1U : 0U;
          for (std::size_t id = 1; id < now.marks.size(); ++id) {
            early += now.marks[id] > std::max(old.marks[id], later.marks[id]) ? 1U : 0U;
          }
          ASSERT_EQ(now.marks, first.marks) << a.name << ": what one power on reads the next one reads too";
          ASSERT_TRUE(now.needed == old.needed || now.needed == later.needed);
          ASSERT_EQ(k.mark(2), 20U) << a.name << ": another copy's mark is not touched";
        }
        Kept after{flash};
        ASSERT_TRUE(after.says(2, 40) == Code::none) << "and it goes on";
      }
    }
  }
  std::printf("%s: %llu cuts, freed too early %llu\n", a.name, static_cast<unsigned long long>(cuts),
              static_cast<unsigned long long>(early));
  EXPECT_EQ(early, 0U);
}

// ---- over the link and at the pendant

struct CopiesDesk : Desk {
  std::uint32_t acknowledge(std::uint64_t id, std::uint64_t up_to) {
    peer.release_records(up_to, {.id = id, .name = "copy " + std::to_string(id % 1000)});
    return code();
  }
  wire::Status status() {
    peer.read_status();
    EXPECT_TRUE(done());
    return peer.status().value_or(wire::Status{});
  }
};

TEST(CopiesAtThePendant, TheNumberIsChangedAndACopyForgottenThereAndIsOnRecord) {
  CopiesDesk d;
  d.pair();
  d.run(1000);
  ASSERT_EQ(d.acknowledge(0x1122334455667788, 2), 0U);
  ASSERT_EQ(d.status().copies_size(), 1);
  EXPECT_EQ(d.status().copies_needed(), 2U);
  EXPECT_EQ(d.status().copies(0).name(), "copy 552");
  d.menu(8);
  EXPECT_EQ(d.line(1), "COPIES OF THE LOG");
  d.press(port::Input::select);
  EXPECT_EQ(d.line(1), "COPIES NEEDED: 2");
  d.press(port::Input::confirm);
  EXPECT_EQ(d.status().copies_needed(), 1U);
  EXPECT_TRUE(d.has(EventCode::copies, 1, 0));
  d.menu(8);
  d.press(port::Input::select);
  d.press(port::Input::select);
  EXPECT_EQ(d.line(1), "FORGET COPY copy 552");
  EXPECT_EQ(d.line(2), "1122 3344 5566 7788");
  d.press(port::Input::confirm);
  EXPECT_EQ(d.status().copies_size(), 0);
  EXPECT_TRUE(d.has(EventCode::copies, 1, 0x55667788));
  d.boot();
  EXPECT_EQ(d.status().copies_needed(), 1U);
  EXPECT_EQ(d.status().copies_size(), 0);
}

// A copy that comes while the person reads takes the lowest free place: the one that is read would move under
// the cursor.
TEST(CopiesAtThePendant, TheListStandsStillWhileAPersonReadsIt) {
  CopiesDesk d;
  d.pair();
  d.run(1000);
  ASSERT_EQ(d.acknowledge(0x111, 2), 0U);
  ASSERT_EQ(d.acknowledge(0x222, 2), 0U);
  d.menu(8);
  d.press(port::Input::select);
  d.press(port::Input::select);
  d.press(port::Input::confirm);
  ASSERT_EQ(d.status().copies_size(), 1) << "the first place is free now";
  d.menu(8);
  d.press(port::Input::select);
  d.press(port::Input::select);
  const std::string read = d.line(1);
  EXPECT_EQ(d.acknowledge(0x333, 2), static_cast<std::uint32_t>(Code::busy));
  EXPECT_EQ(d.line(1), read);
  d.press(port::Input::confirm);
  EXPECT_EQ(d.status().copies_size(), 0);
  EXPECT_EQ(d.acknowledge(0x333, 2), 0U);
}

// The only message that touches the list adds to it, and that is bounded. Each is one that the jack takes.
TEST(CopiesOverTheLink, NothingWeakensTheRule) {
  CopiesDesk d;
  d.pair();
  d.enrol(1);
  ASSERT_EQ(d.acknowledge(1, 2), 0U);
  d.peer.set_clock(calibrated_s + 86'400);
  ASSERT_EQ(d.code(), 0U);
  ASSERT_EQ(d.load(1), 0U);
  ASSERT_EQ(d.load(2), 0U);
  d.peer.send_instruction(instruction());
  ASSERT_EQ(d.code(), 0U);
  wire::TableUndo undo;
  undo.set_from(2);
  undo.set_to(1);
  d.peer.undo_table(undo);
  ASSERT_EQ(d.code(), 0U);
  wire::TableWithdraw withdraw;
  withdraw.set_revision(1);
  withdraw.set_reason(5);
  d.peer.withdraw_table(withdraw);
  ASSERT_EQ(d.code(), 0U);
  wire::BedEntry entry;
  entry.set_bed(1);
  entry.set_position(4);
  entry.set_kind(1);
  entry.set_by("foreman");
  d.peer.enter(entry);
  ASSERT_EQ(d.code(), 0U);
  EXPECT_EQ(d.status().copies_needed(), 2U);
  ASSERT_EQ(d.status().copies_size(), 1);
  EXPECT_EQ(d.status().copies(0).up_to(), 2U);
  for (std::uint64_t id = 2; id <= 4; ++id) {
    EXPECT_EQ(d.acknowledge(id, 1), 0U);
  }
  EXPECT_EQ(d.acknowledge(5, 1), static_cast<std::uint32_t>(Code::copies_full));
  EXPECT_EQ(d.status().copies_size(), 4);
}

// An acknowledgement that was held back on the line counts in its own session alone.
TEST(CopiesOverTheLink, AnAcknowledgementOfAnEarlierSessionCountsNothing) {
  for (const bool later : {false, true}) {
    CopiesDesk d;
    d.pair();
    d.run(1000);
    d.peer.release_records(2, {.id = 9, .name = "held back"});
    d.peer.poll(d.sample_tick);
    const auto held_back = d.peer.take();
    d.peer.abandon();
    if (later) {
      d.peer.identify();
      ASSERT_TRUE(d.done());
    }
    d.serial->push(held_back);
    d.run(100);
    EXPECT_EQ(d.status().copies_size(), later ? 0 : 1);
  }
}

}  // namespace
}  // namespace strandproof::app
