// The shelf of gauge tables: what is taken, what is refused and why, and what a power on makes of it.
#include <gtest/gtest.h>

#include <cstdio>

#include "tests/app/shelf_bench.hpp"

namespace strandproof::app {
namespace {

using control::Refusal;
using link::Code;

TEST_F(Shelf, TakesATableOfEitherKeyAndKeepsItOverPowerCuts) {
  with_two_keys();
  EXPECT_EQ(life->load(1, 1), Code::none);
  EXPECT_EQ(life->load(2, 2), Code::none);
  for (int boots = 0; boots < 2; ++boots) {
    EXPECT_EQ(life->in_use(), 2U);
    EXPECT_EQ(life->shelf.bar(), Refusal::none);
    const auto t = life->tables();
    EXPECT_EQ(t.active, 2U);
    EXPECT_EQ(t.floor, 2U);
    EXPECT_EQ(t.slot_a.revision, 1U);
    EXPECT_EQ(t.slot_a.state, 1U);
    EXPECT_EQ(t.slot_b.state, 2U);
    EXPECT_EQ(t.slot_b.due_s, due_s);
    ASSERT_EQ(t.keys_count, 2);
    EXPECT_STREQ(t.keys[1].name, "key 2");
    EXPECT_EQ(slot_bytes(life->shelf, 1), signed_by(table_message(1)).bytes);
    EXPECT_EQ(slot_bytes(life->shelf, 2), signed_by(table_message(2), 2).bytes);
    const proto::Key digest = proto::sha256(signed_by(table_message(2), 2).bytes);
    EXPECT_TRUE(std::equal(digest.begin(), digest.end(), t.slot_b.sha256.bytes));
    boot();
  }
}

TEST_F(Shelf, H18_RefusesWhatIsNotForThisJackAndSaysWhichWay) {
  EXPECT_EQ(life->load(1), Code::no_table_key);
  with_two_keys();
  EXPECT_EQ(life->load(1, 3), Code::table_signature) << "a key that is not enrolled";
  const auto with = [&](auto&& change, std::uint64_t now_s = 0) {
    wire::GaugeTable t = table_message(5);
    change(t);
    return life->load(signed_by(t), now_s);
  };
  EXPECT_EQ(with([](auto& t) { t.set_jack_serial(8); }), Code::table_serial);
  EXPECT_EQ(with([](auto& t) { t.set_sensor_a_serial(72); }), Code::table_serial);
  EXPECT_EQ(with([](auto& t) { t.set_sensor_b_serial(71); }), Code::table_serial);
  EXPECT_EQ(with([](auto& t) { t.set_due_s(t.calibrated_s()); }), Code::table_dates);
  EXPECT_EQ(with([](auto& t) { t.set_due_s(t.calibrated_s() + 400 * 86'400 + 1); }), Code::table_dates);
  EXPECT_EQ(with([](auto&) {}, calibrated_of(5) - 86'401), Code::table_dates) << "calibrated in days to come";
  EXPECT_EQ(with([](auto& t) { t.set_revision(1001); }), Code::table_revision_far);
  EXPECT_EQ(with([](auto& t) { t.set_revision(0xFFFFFFFF); }), Code::table_revision_far);
  EXPECT_EQ(with([](auto&) {}, due_s + 1), Code::table_overdue);
  EXPECT_EQ(with([](auto& t) { t.mutable_a_increasing()->set_force_n(3, 1); }), Code::table_not_rising);
  EXPECT_EQ(with([](auto& t) { t.mutable_b_increasing()->mutable_force_n()->RemoveLast(); }),
            Code::table_points);
  EXPECT_EQ(life->in_use(), 0U);
  EXPECT_EQ(life->load(5), Code::none);
  EXPECT_EQ(life->load(5), Code::table_older) << "replayed";
  EXPECT_EQ(life->load(4), Code::table_older);
  EXPECT_EQ(life->in_use(), 5U);
}

// Every bit of the signed bytes and of the signature, one at a time: never accepted. And every truncation.
TEST_F(Shelf, H20_NoSingleBitOfTableOrSignatureMayDiffer) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  const SignedTable good = signed_by(table_message(2));
  strandproof_wire_GaugeTable message = strandproof_wire_GaugeTable_init_zero;
  ASSERT_TRUE(decode_table(good.bytes, message));
  std::size_t tried = 0;
  for (std::size_t bit = 0; bit < 8 * good.bytes.size(); ++bit, ++tried) {
    SignedTable t = good;
    t.bytes[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    ASSERT_EQ(life->shelf.install(message, t.bytes, t.signature, 0), Code::table_signature) << bit;
  }
  for (std::size_t bit = 0; bit < 8 * good.signature.size(); ++bit, ++tried) {
    SignedTable t = good;
    t.signature[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    ASSERT_EQ(life->shelf.install(message, t.bytes, t.signature, 0), Code::table_signature) << bit;
  }
  for (std::size_t n = 0; n < good.bytes.size(); ++n, ++tried) {
    ASSERT_EQ(life->shelf.install(message, std::span{good.bytes}.first(n), good.signature, 0),
              Code::table_signature)
        << n;
  }
  std::printf("%zu changed tables refused: every bit of %zu bytes and of the signature, every length\n",
              tried, good.bytes.size());
  EXPECT_EQ(tried, 9 * good.bytes.size() + 512);
  EXPECT_EQ(life->in_use(), 1U);
  EXPECT_EQ(life->load(good), Code::none) << "unchanged it is taken";
}

// What the flash keeps is what is verified: a bit that stays as it was is found before the switch.
TEST_F(Shelf, H20_AFlashThatDoesNotKeepTheTableKeepsTheOldOne) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  const std::uint32_t slot_b = 2 * static_cast<std::uint32_t>(record::CellId::table_slot_b) * 2048;
  flash.stick(slot_b + 400);
  EXPECT_EQ(life->load(2), Code::store_fault);
  EXPECT_EQ(life->in_use(), 1U);
  boot();
  EXPECT_EQ(life->in_use(), 1U);
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
}

// A flash that forgets: from the n-th read after the writing on, one bit of the table's body is another.
class FadingFlash final : public port::Flash {
 public:
  FadingFlash(test::NastyFlash& inner, std::uint32_t bit_at, unsigned reads)
      : inner_{inner}, bit_at_{bit_at}, reads_{reads} {}
  std::uint32_t size() const override { return inner_.size(); }
  std::uint32_t page_size() const override { return inner_.page_size(); }
  std::uint32_t word_size() const override { return inner_.word_size(); }
  bool read(std::uint32_t address, std::span<std::uint8_t> into) const override {
    if (written_ && !faded && reads_-- == 0) {
      inner_.rot(bit_at_, 0x10);
      faded = true;
    }
    seen = seen || (faded && !switched_ && address <= bit_at_ && bit_at_ < address + into.size());
    return inner_.read(address, into);
  }
  bool program(std::uint32_t address, std::span<const std::uint8_t> from) override {
    const std::uint32_t cell = address / (2 * inner_.page_size());
    const bool body = address <= bit_at_ && bit_at_ < address + from.size();
    written_ = written_ || body;
    switched_ = switched_ || (written_ && cell == static_cast<std::uint32_t>(record::CellId::active_table));
    writing = writing || (faded && cell == static_cast<std::uint32_t>(record::CellId::table_slot_b));
    return inner_.program(address, from);
  }
  bool erase(std::uint32_t page) override { return inner_.erase(page); }
  mutable bool faded = false;  // the bit has gone over
  mutable bool seen = false;   // and was read before the switch
  bool writing = false;        // it went while the slot was being written

 private:
  test::NastyFlash& inner_;
  std::uint32_t bit_at_;
  mutable unsigned reads_;
  bool written_ = false, switched_ = false;
};

TEST_F(Shelf, H20_NothingIsSwitchedToThatDidNotReadBack) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  const std::uint32_t body = 2 * static_cast<std::uint32_t>(record::CellId::table_slot_b) * 2048 +
                             record::mark_size + record::entry_header_size;
  unsigned refused = 0, behind_the_write = 0;
  for (unsigned reads = 0;; ++reads) {
    test::NastyFlash copy = flash;
    FadingFlash fading{copy, body + 200, reads};
    Life l{fading};
    const Code code = l.load(2);
    if (!fading.faded) {
      EXPECT_EQ(code, Code::none);
      break;
    }
    refused += fading.seen ? 1U : 0U;
    behind_the_write += fading.seen && !fading.writing ? 1U : 0U;
    ASSERT_EQ(code, fading.seen ? Code::store_fault : Code::none) << "faded at read " << reads;
    ASSERT_EQ(l.in_use(), fading.seen ? 1U : 2U);
  }
  std::printf("%u fades refused, %u of them behind the last word of the write\n", refused, behind_the_write);
  EXPECT_GT(behind_the_write, 1U);
}

// ---- rollback

TEST_F(Shelf, H21_AnOlderTableIsNotTakenAgainEvenAfterAnUndo) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  ASSERT_EQ(life->load(2), Code::none);
  ASSERT_EQ(life->undo(2, 1), Code::none);
  EXPECT_EQ(life->in_use(), 1U);
  EXPECT_EQ(life->load(2), Code::table_older) << "the floor stays where it was";
  boot();
  EXPECT_EQ(life->in_use(), 1U) << "undone on purpose: may lie below the floor";
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
  EXPECT_EQ(life->load(2), Code::table_older);
  EXPECT_EQ(life->load(3), Code::none);
}

// Somebody puts the cells of yesterday back, all but the floor, which lies apart.
TEST_F(Shelf, H21_CellsOfYesterdayAreRefusedAtPowerOn) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  ASSERT_EQ(life->load(2), Code::none);
  struct {
    std::uint32_t revision = 1;
    std::uint8_t slot = 0, undone = 0, unused[2] = {};
  } yesterday;
  ASSERT_TRUE(life->vault.save(record::CellId::active_table, yesterday));
  boot();
  EXPECT_EQ(life->in_use(), 0U);
  EXPECT_EQ(life->shelf.bar(), Refusal::table_rolled_back);
  EXPECT_EQ(life->tables().refusal, static_cast<std::uint32_t>(Refusal::table_rolled_back));
  EXPECT_EQ(life->load(2), Code::table_older);
  EXPECT_EQ(life->load(3), Code::none);
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
}

// ---- power on

// One bit of each byte a case, so that the cases run side by side: each byte costs a power on with two
// signatures.
struct RottenBit : Shelf, testing::WithParamInterface<unsigned> {};
INSTANTIATE_TEST_SUITE_P(Bits, RottenBit, testing::Range(0U, 8U));

TEST_P(RottenBit, H20_BarsArmingOrIsMendedAtEveryByteOfTheStoredTable) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  ASSERT_EQ(life->load(2), Code::none);
  const std::uint32_t start = 2 * static_cast<std::uint32_t>(record::CellId::table_slot_b) * 2048;
  const auto stored = static_cast<std::uint32_t>(72 + signed_by(table_message(2)).bytes.size());
  unsigned barred = 0;
  for (std::uint32_t at = start; at < start + record::mark_size + record::entry_size(stored); ++at) {
    test::NastyFlash aged = flash;
    aged.rot(at, static_cast<std::uint8_t>(1U << GetParam()));
    Life next{aged};
    const bool good = next.in_use() == 2 && next.shelf.bar() == Refusal::none &&
                      slot_bytes(next.shelf, 2) == signed_by(table_message(2)).bytes;
    const bool bad = next.in_use() == 0 && next.shelf.bar() == Refusal::table_damaged;
    ASSERT_TRUE(good || bad) << at - start;
    barred += bad ? 1U : 0U;
  }
  std::printf("bit %u of %u stored bytes, %u of them bar arming\n", GetParam(),
              record::mark_size + record::entry_size(stored), barred);
  EXPECT_GT(barred, stored) << "each byte of table and signature, and of its header";
}

TEST_F(Shelf, H07_H18_ASensorExchangedWhileTheJackWasOffBarsArming) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  control::Jack other = bench_jack;
  other.sensor_b_serial = 73;
  boot(other);
  EXPECT_EQ(life->in_use(), 0U);
  EXPECT_EQ(life->shelf.bar(), Refusal::table_serial);
}

// ---- keys

TEST_F(Shelf, ARevokedKeyTakesItsTableWithItAndTheOtherKeyHelps) {
  with_two_keys();
  ASSERT_EQ(life->load(1, 1), Code::none);
  ASSERT_TRUE(life->shelf.revoke(0));
  EXPECT_EQ(life->shelf.bar(), Refusal::table_key_gone);
  EXPECT_EQ(life->load(2, 1), Code::table_signature);
  boot();
  EXPECT_EQ(life->shelf.bar(), Refusal::table_key_gone);
  EXPECT_EQ(life->load(2, 2), Code::none) << "the second key, on another computer";
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
  ASSERT_EQ(life->shelf.key_count(), 1U);
  EXPECT_EQ(life->shelf.keys()[0], enrolment(2)) << "the places are kept without holes";
}

TEST_F(Shelf, FourKeysAndNoFifth) {
  for (std::uint8_t n = 1; n <= 4; ++n) {
    EXPECT_FALSE(life->shelf.keys_full());
    EXPECT_TRUE(life->shelf.enrol(enrolment(n)));
  }
  EXPECT_TRUE(life->shelf.keys_full());
  EXPECT_FALSE(life->shelf.enrol(enrolment(5)));
  EXPECT_TRUE(life->shelf.enrolled(enrolment(4)));
  EXPECT_FALSE(life->shelf.enrolled(enrolment(5)));
  EXPECT_FALSE(life->shelf.revoke(4));
  boot();
  EXPECT_EQ(life->shelf.key_count(), 4U);
}

// ---- withdraw, part changed, undo

TEST_F(Shelf, AWithdrawnTableBarsArmingUntilAHigherRevision) {
  with_two_keys();
  EXPECT_EQ(life->withdraw(1), Code::no_table);
  ASSERT_EQ(life->load(1), Code::none);
  ASSERT_EQ(life->load(2), Code::none);
  EXPECT_EQ(life->withdraw(1), Code::table_not_active);
  EXPECT_EQ(life->withdraw(2, 0), Code::malformed);
  EXPECT_EQ(life->withdraw(2, 6), Code::malformed);
  EXPECT_EQ(life->withdraw(2, 4), Code::none);
  EXPECT_EQ(life->withdraw(2, 1), Code::none) << "again, for another reason";
  for (int boots = 0; boots < 2; ++boots) {
    EXPECT_EQ(life->shelf.bar(), Refusal::table_withdrawn);
    EXPECT_EQ(life->tables().withdrawn_reason, 1U) << "the last reason stands";
    EXPECT_EQ(life->tables().slot_b.state, 3U);
    boot();
  }
  EXPECT_EQ(life->undo(2, 1), Code::none);
  EXPECT_EQ(life->shelf.bar(), Refusal::table_withdrawn) << "an older table lifts nothing";
  wire::GaugeTable again = table_message(3);
  for (const std::uint64_t taken : {calibrated_of(1), calibrated_of(2)}) {
    again.set_calibrated_s(taken);
    EXPECT_EQ(life->load(signed_by(again)), Code::table_barred) << "a refit of runs that are in doubt";
  }
  EXPECT_EQ(life->shelf.bar(), Refusal::table_withdrawn);
  EXPECT_EQ(life->load(3), Code::none);
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
  EXPECT_EQ(life->tables().withdrawn_reason, 0U);
  boot();
  again.set_revision(4);
  EXPECT_EQ(life->load(signed_by(again)), Code::table_barred) << "nor after a good one";
}

// Where the clock is not known, the runs of the voided table are all that dates the change.
TEST_F(Shelf, APartChangedAtAnUnknownTimeBarsTheSameRuns) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  ASSERT_TRUE(life->shelf.part_changed(Part::hose, 0));
  boot();
  wire::GaugeTable again = table_message(2);
  again.set_calibrated_s(calibrated_of(1));
  EXPECT_EQ(life->load(signed_by(again)), Code::table_barred);
  EXPECT_EQ(life->load(2), Code::none);
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
}

TEST_F(Shelf, APartChangedAfterAnUndoBarsTheRunsOfBothSlots) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  ASSERT_EQ(life->load(2), Code::none);
  ASSERT_EQ(life->undo(2, 1), Code::none);
  ASSERT_TRUE(life->shelf.part_changed(Part::sensor_a, 0));
  wire::GaugeTable again = table_message(3);
  again.set_calibrated_s(calibrated_of(2));
  EXPECT_EQ(life->load(signed_by(again)), Code::table_barred)
      << "made with the old sensor, though not in use";
  EXPECT_EQ(life->load(3), Code::none);
}

TEST_F(Shelf, APartChangedVoidsTheTableAndThoseCalibratedBefore) {
  with_two_keys();
  ASSERT_EQ(life->load(1), Code::none);
  ASSERT_TRUE(life->shelf.part_changed(Part::seal, calibrated_s + 40 * 86'400ULL));
  for (int boots = 0; boots < 2; ++boots) {
    EXPECT_EQ(life->shelf.bar(), Refusal::part_changed);
    EXPECT_EQ(life->tables().voided_part, 3U);
    EXPECT_EQ(life->tables().slot_a.state, 4U);
    boot();
  }
  EXPECT_EQ(life->load(2), Code::table_before_change) << "signed later, but calibrated with the old seal";
  wire::GaugeTable t = table_message(2);
  t.set_calibrated_s(calibrated_s + 40 * 86'400ULL - 1);  // that morning, with the old seal still
  EXPECT_EQ(life->load(signed_by(t)), Code::table_before_change);
  t.set_calibrated_s(calibrated_s + 40 * 86'400ULL);
  EXPECT_EQ(life->load(signed_by(t)), Code::none);
  EXPECT_EQ(life->shelf.bar(), Refusal::none);
}

TEST_F(Shelf, UndoOnlyBeforeTheFirstPullAndOnlyToTheOlderOne) {
  with_two_keys();
  EXPECT_EQ(life->undo(2, 1), Code::no_table);
  ASSERT_EQ(life->load(1), Code::none);
  EXPECT_EQ(life->undo(1, 0), Code::no_other_table);
  ASSERT_EQ(life->load(2), Code::none);
  EXPECT_EQ(life->undo(1, 2), Code::table_not_active);
  EXPECT_EQ(life->undo(2, 3), Code::no_other_table);
  life->shelf.pull_begun();
  boot();
  EXPECT_EQ(life->tables().slot_b.pulls, 1U);
  EXPECT_EQ(life->undo(2, 1), Code::table_in_use);
  ASSERT_EQ(life->load(3), Code::none);
  EXPECT_EQ(life->undo(3, 2), Code::none);
  EXPECT_EQ(life->undo(2, 3), Code::table_in_use) << "its pull is remembered";
  ASSERT_EQ(life->load(4), Code::none);
  ASSERT_EQ(life->load(5), Code::none);
  EXPECT_EQ(life->undo(5, 4), Code::none);
  EXPECT_EQ(life->undo(4, 5), Code::no_other_table) << "never forward";
}

}  // namespace
}  // namespace strandproof::app
