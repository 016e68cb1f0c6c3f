// Table keys, parts and tables as a person at the pendant and a host at the cable meet them: the whole
// firmware, and every tick asserts that nothing moves oil (Desk::tick).
#include <gtest/gtest.h>

#include "firmware/link/handler.hpp"
#include "tests/app/app_bench.hpp"

namespace strandproof::app {
namespace {

using link::Code;

std::uint32_t n(Code c) {
  return static_cast<std::uint32_t>(c);
}
std::uint32_t mark(std::uint8_t key) {
  return first_four(enrolment(key));
}

TEST(Pendant, AKeyIsEnrolledWithThePersonAndTheSameFingerprintAtBothEnds) {
  Desk d;
  d.pair();
  d.peer.enrol_table_key("key 1", table_key(1).public_key());
  EXPECT_EQ(d.code(), n(Code::key_closed)) << "nobody has opened it";
  d.menu(5);
  EXPECT_EQ(d.line(1), "ENROL A TABLE KEY");
  d.peer.enrol_table_key("key 1", table_key(1).public_key());
  d.run(400);
  ASSERT_TRUE(d.peer.busy()) << "waits for the person";
  EXPECT_EQ(d.line(1), "TABLE KEY key 1");
  const proto::Fingerprint f = proto::fingerprint_of(table_key(1).public_key());
  Line wanted;
  EXPECT_EQ(d.line(2), wanted.fingerprint(f).view());
  EXPECT_EQ(d.tables().keys_size(), 0) << "not before the confirm";
}

TEST(Pendant, EnrolLoadRevokeAndLoadWithTheOtherKey) {
  Desk d;
  d.pair();
  EXPECT_EQ(d.load(1), n(Code::no_table_key));
  d.enrol(1);
  d.enrol(2);
  ASSERT_EQ(d.tables().keys_size(), 2);
  EXPECT_EQ(d.load(1), 0U);
  EXPECT_EQ(d.load(1), n(Code::table_older));
  EXPECT_EQ(d.load(2, 3), n(Code::table_signature));
  // The first key is revoked: select, confirm. One confirm too many before does nothing.
  d.menu(6);
  d.press(port::Input::confirm);
  EXPECT_EQ(d.tables().keys_size(), 2);
  d.press(port::Input::select);
  EXPECT_EQ(d.line(1), "REVOKE A TABLE KEY: key 1");
  d.press(port::Input::confirm, 500);  // held long: the rest of the press goes nowhere
  EXPECT_EQ(d.state, 0U);
  EXPECT_EQ(d.line(1), "IDLE > REVOKE A TABLE KEY") << "the list is closed and did not open again";
  wire::Tables t = d.tables();
  ASSERT_EQ(t.keys_size(), 1);
  EXPECT_EQ(t.keys(0).name(), "key 2");
  EXPECT_EQ(t.refusal(), n(Code::table_key_gone));
  EXPECT_EQ(d.load(2, 1), n(Code::table_signature));
  EXPECT_EQ(d.load(2, 2), 0U);
  EXPECT_EQ(d.tables().refusal(), 0U);
  EXPECT_TRUE(d.has(EventCode::key_enrolled, mark(2), 0));
  EXPECT_TRUE(d.has(EventCode::key_revoked, mark(1), 0));
  EXPECT_TRUE(d.has(EventCode::table_bad, n(Code::table_key_gone), 1));
  EXPECT_TRUE(d.has(EventCode::table_loaded, 2, 0));
  EXPECT_TRUE(d.has(EventCode::link_refused, n(Code::table_older), 35));
  EXPECT_TRUE(d.has(EventCode::link_refused, n(Code::table_signature), 35));
  EXPECT_TRUE(d.has(EventCode::link_refused, n(Code::no_table_key), 35));
}

TEST(Pendant, APartChangedIsNamedShownAndRecorded) {
  Desk d;
  d.pair();
  d.enrol(1);
  ASSERT_EQ(d.load(1), 0U);
  d.menu(7);
  EXPECT_EQ(d.line(1), "PART CHANGED");
  for (int i = 0; i < 4; ++i) {
    d.press(port::Input::select);
  }
  EXPECT_EQ(d.line(1), "PART CHANGED: HOSE");
  d.press(port::Input::reset);
  EXPECT_EQ(d.tables().voided_part(), 0U) << "reset ends it";
  d.menu(7);
  for (int i = 0; i < 9; ++i) {  // round and on
    d.press(port::Input::select);
  }
  d.press(port::Input::confirm);
  EXPECT_EQ(d.tables().voided_part(), 4U);
  EXPECT_EQ(d.tables().refusal(), n(Code::part_changed));
  EXPECT_TRUE(d.has(EventCode::part_changed, 4, 1));
  d.boot();
  EXPECT_EQ(d.tables().refusal(), n(Code::part_changed));
}

TEST(Pendant, AListClosesByItselfAndByAMovingKey) {
  Desk d;
  d.menu(7);
  d.run(60'200);
  EXPECT_EQ(d.line(1), "IDLE > PART CHANGED");
  for (const port::Input key : {port::Input::enable_1, port::Input::advance, port::Input::lower}) {
    d.menu(7);
    d.press(port::Input::select);
    d.press(key);
    EXPECT_EQ(d.line(1), "IDLE > PART CHANGED") << static_cast<int>(key);
  }
  EXPECT_EQ(d.tables().voided_part(), 0U);
}

TEST(Pendant, WithdrawAndUndoOverTheLink) {
  Desk d;
  d.pair();
  d.enrol(1);
  ASSERT_EQ(d.load(1), 0U);
  ASSERT_EQ(d.load(2), 0U);
  wire::TableUndo undo;
  undo.set_from(2);
  undo.set_to(1);
  d.peer.undo_table(undo);
  EXPECT_EQ(d.code(), 0U);
  EXPECT_EQ(d.tables().active(), 1U);
  EXPECT_TRUE(d.has(EventCode::table_undone, 1, 2));
  wire::TableWithdraw withdraw;
  withdraw.set_revision(1);
  withdraw.set_reason(5);
  d.peer.withdraw_table(withdraw);
  EXPECT_EQ(d.code(), 0U);
  EXPECT_EQ(d.tables().withdrawn_reason(), 5U);
  EXPECT_TRUE(d.has(EventCode::table_withdrawn, 5, 1));
  // What was undone reads back byte by byte as it was sent.
  d.peer.read_table(2, d.tables().slot_b().length());
  ASSERT_EQ(d.code(), 0U);
  const SignedTable sent = signed_by(table_message(2));
  EXPECT_EQ(d.peer.held().bytes, sent.bytes);
  EXPECT_EQ(d.peer.held().signature, sent.signature);
}

// Arming counts as the first pull, though the horn has not sounded: an undo comes too late then. And what
// bars the table bars arming, with its own code on the display and in the record.
TEST(Pendant, AnArmedPullEndsTheTimeForUndoAndAWithdrawnTableIsNotArmed) {
  Desk d;
  d.pair();
  d.enrol(1);
  d.peer.set_clock(calibrated_s + 86'400);
  ASSERT_EQ(d.code(), 0U);
  ASSERT_EQ(d.load(1), 0U);
  ASSERT_EQ(d.load(2), 0U);
  d.peer.send_instruction(instruction());
  ASSERT_EQ(d.code(), 0U) << d.peer.last_result().what;
  d.menu(0);
  ASSERT_EQ(d.state, 1U) << d.line(3);
  d.press(port::Input::reset);
  ASSERT_EQ(d.state, 0U);
  EXPECT_EQ(d.tables().slot_b().pulls(), 1U);
  wire::TableUndo undo;
  undo.set_from(2);
  undo.set_to(1);
  d.peer.undo_table(undo);
  EXPECT_EQ(d.code(), n(Code::table_in_use));
  EXPECT_TRUE(d.has(EventCode::link_refused, n(Code::table_in_use), 40));
  wire::TableWithdraw withdraw;
  withdraw.set_revision(2);
  withdraw.set_reason(1);
  d.peer.withdraw_table(withdraw);
  ASSERT_EQ(d.code(), 0U);
  d.peer.send_instruction(instruction());
  ASSERT_EQ(d.code(), 0U);
  d.menu(0);
  EXPECT_EQ(d.state, 0U);
  EXPECT_EQ(d.line(3), "GAUGE TABLE WITHDRAWN");
  EXPECT_TRUE(d.has(EventCode::refused, n(Code::table_withdrawn), 0));
}

// No frame of any type, no sealed kind, opens a window or a list, or answers one.
TEST(Pendant, NoMessageOpensAQuestion) {
  Desk d;
  d.pair();
  d.enrol(1);
  ASSERT_EQ(d.load(1), 0U);
  d.press(port::Input::reset);
  const auto shown = [&] { return d.line(1) + "|" + d.line(3); };
  const std::string before = shown();
  EXPECT_EQ(before.substr(0, 11), "IDLE > PULL");
  for (int type = 0; type < 256; ++type) {
    std::array<std::uint8_t, proto::frame_max> frame{};
    const std::size_t size =
        proto::encode_frame({.type = static_cast<proto::FrameType>(type), .device = 7}, {}, frame);
    d.serial->push(std::span{frame}.first(size));
    d.run(20);
  }
  for (std::uint8_t key = 1; key < 4; ++key) {
    d.peer.enrol_table_key("forged", table_key(key).public_key());
    EXPECT_EQ(d.code(), key == 1 ? 0U : n(Code::key_closed)) << "0: that one is enrolled";
  }
  EXPECT_EQ(shown(), before);
  EXPECT_EQ(d.tables().keys_size(), 1);
  EXPECT_EQ(d.tables().refusal(), 0U);
}

// NE 43: 4 mA is zero and 3.8 mA still a measurement, so noise at rest falls on both sides. By hand:
// 3.9 mA of 24 mA in 65535 counts is 10649; (10649 * 24 / 65535 - 4) / 16 of 700,000 mbar.
TEST(Pendant, TelemetryTellsPressuresBelowZeroAsTheyAre) {
  Desk d;
  d.pressure_a = 10'649;
  wire::Telemetry last;
  d.peer.on_telemetry = [&](const wire::Telemetry& t) { last = t; };
  d.peer.set_telemetry(50);
  d.run(500);
  EXPECT_NEAR(last.pressure_a_mbar(), (10'649.0 * 24.0 / 65'535.0 - 4.0) / 16.0 * 700'000.0, 2.0);
  EXPECT_LT(last.pressure_a_mbar(), -4000);
  EXPECT_NEAR(last.pressure_b_mbar(), (10'923.0 * 24.0 / 65'535.0 - 4.0) / 16.0 * 700'000.0, 2.0);
}

TEST(Pendant, TelemetryTellsTheOilTemperature) {
  Desk d;
  std::int32_t tenths = 0;
  d.peer.on_telemetry = [&](const wire::Telemetry& t) { tenths = t.oil_tenths_degc(); };
  d.peer.set_telemetry(50);
  d.run(500);
  EXPECT_NEAR(tenths, 250, 1);  // 10 mA of -20 to 100 degC at 4 to 20 mA
}

}  // namespace
}  // namespace strandproof::app
