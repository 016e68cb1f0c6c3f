// What the jack's end must not do, whatever comes: forged, replayed, late, too much, from strangers (H25 to
// H27).
#include <gtest/gtest.h>

#include "tests/link/forge.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;
using Calls = std::vector<std::string>;

// ---- H25: forged or replayed --------------------------------------------------------------------------

TEST_F(Hostile, H25_AGoodMessageIsTheControl) {
  EXPECT_EQ(host.set_clock(5), Code::none);
  EXPECT_EQ(jack.handler.calls, Calls{"clock 5"});
}

TEST_F(Hostile, H25_EveryFieldIsUnderTheTag) {
  const auto changed = [&](auto change) {
    FakeJack other;
    Forger h{other};
    wire::Sealed s = h.sealed(FrameType::clock_set, clock_body(5));
    change(s);
    EXPECT_EQ(h.ask(s), Code::tag_wrong);
    EXPECT_TRUE(other.handler.calls.empty());
  };
  changed([](wire::Sealed& s) { s.set_counter(s.counter() + 1); });
  changed([](wire::Sealed& s) { s.set_valid_until_ms(s.valid_until_ms() + 1); });
  changed([](wire::Sealed& s) { s.set_kind(s.kind() + 6); });
  changed([](wire::Sealed& s) { s.set_body(clock_body(6)); });
  changed([](wire::Sealed& s) { s.mutable_tag()->at(15) ^= 1; });
  changed([](wire::Sealed& s) { s.mutable_tag()->pop_back(); });
  changed([](wire::Sealed& s) { s.clear_tag(); });
}

TEST_F(Hostile, H25_AnUnknownHostIsRefused) {
  wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
  s.set_host_id(99);
  s.set_tag(host.tag(s));
  EXPECT_EQ(host.ask(s), Code::not_paired);
  EXPECT_TRUE(jack.handler.calls.empty());
}

TEST_F(Hostile, H25_AMessageSentTwiceIsAnsweredTwiceAndAppliedOnce) {
  const wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
  EXPECT_EQ(host.ask(s), Code::none);
  EXPECT_EQ(host.ask(s), Code::none);
  EXPECT_EQ(jack.handler.calls, Calls{"clock 5"});
}

TEST_F(Hostile, H25_AnOlderMessageIsRefused) {
  const wire::Sealed old = host.sealed(FrameType::clock_set, clock_body(5));
  EXPECT_EQ(host.ask(old), Code::none);
  EXPECT_EQ(host.set_clock(6), Code::none);
  EXPECT_EQ(host.ask(old), Code::counter_old);
  EXPECT_EQ(jack.handler.calls, (Calls{"clock 5", "clock 6"}));
}

TEST_F(Hostile, H25_ARecordingOfAnotherSessionIsRefused) {
  const wire::Sealed old = host.sealed(FrameType::clock_set, clock_body(5));
  const std::uint32_t old_session = host.session;
  host.identify();
  EXPECT_EQ(host.ask(old), Code::tag_wrong);  // in the new session's frame
  host.session = old_session;
  EXPECT_EQ(host.ask(old), Code::other_session);  // as it was recorded
  EXPECT_TRUE(jack.handler.calls.empty());
}

TEST_F(Hostile, H25_NoncesDifferByBootAndBySession) {
  std::vector<std::string> seen;
  for (std::uint32_t boot = 1; boot <= 3; ++boot) {
    jack.session.start(boot, {});
    for (int i = 0; i < 3; ++i) {
      host.identify();
      EXPECT_EQ(host.identity.nonce().size(), 16U);
      EXPECT_EQ(std::count(seen.begin(), seen.end(), host.identity.nonce()), 0);
      seen.push_back(host.identity.nonce());
    }
  }
}

TEST_F(Hostile, H25_ThreeForgedTagsShutTheLinkForTenMinutes) {
  for (unsigned i = 0; i < 3; ++i) {
    EXPECT_EQ(jack.handler.blocks, 0);
    wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
    s.set_tag(std::string(16, 'x'));
    EXPECT_EQ(host.ask(s), Code::tag_wrong);
  }
  EXPECT_EQ(jack.handler.blocks, 1);
  const units::Ticks until = jack.now - 1 + blocked_ticks;  // the forged frame came one tick ago
  EXPECT_EQ(host.set_clock(6), Code::blocked);
  host.identify();  // reads go on, and a new session opens nothing
  EXPECT_EQ(host.set_clock(6), Code::blocked);
  wire::Status status;
  const auto got = host.send(FrameType::status_get, "");
  ASSERT_EQ(got.size(), 1U);
  ASSERT_TRUE(status.ParseFromString(got[0].second));
  EXPECT_EQ(status.tags_bad(), 3U);
  EXPECT_GT(status.link_blocked_ms(), 599'000U);
  while (jack.now + 4 < until) {
    jack.tick();
  }
  EXPECT_EQ(host.set_clock(6), Code::blocked);
  jack.now = until;
  EXPECT_EQ(host.set_clock(7), Code::none);
  EXPECT_EQ(jack.handler.calls, Calls{"clock 7"});
}

TEST_F(Hostile, H25_GoodTagsInBetweenGiveNoFreeTries) {
  for (unsigned i = 0; i < 3; ++i) {
    EXPECT_EQ(host.set_clock(5), Code::none);
    wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(6));
    s.set_tag(std::string(16, 'x'));
    EXPECT_EQ(host.ask(s), Code::tag_wrong);
  }
  EXPECT_EQ(host.set_clock(5), Code::blocked);
}

// ---- H26: late ------------------------------------------------------------------------------------------

TEST_F(Hostile, H26_LateByOneTickIsRefused) {
  const auto at_limit = [&](std::int64_t spare) {
    FakeJack other;
    Forger h{other};
    wire::Sealed s = h.sealed(FrameType::clock_set, clock_body(5));
    // The frame of 60 to 64 bytes is read in the next tick.
    s.set_valid_until_ms(static_cast<std::uint64_t>(static_cast<std::int64_t>(other.now) + spare));
    s.set_tag(h.tag(s));
    const units::Ticks before = other.now;
    const Code code = h.ask(s);
    EXPECT_LE(other.now - before, 4U);
    return code;
  };
  std::int64_t first_good = 0;
  while (first_good < 10 && at_limit(first_good) != Code::none) {
    ++first_good;
  }
  EXPECT_GE(first_good, 1);
  EXPECT_LE(first_good, 2);  // the tick in which its last byte is read
  EXPECT_EQ(at_limit(first_good - 1), Code::too_late);
}

TEST_F(Hostile, H26_NoMessageIsGoodForLongerThanAMinute) {
  wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
  s.set_valid_until_ms(jack.now + validity_max + 10);
  s.set_tag(host.tag(s));
  EXPECT_EQ(host.ask(s), Code::malformed);
  s = host.sealed(FrameType::clock_set, clock_body(5));
  s.set_valid_until_ms(jack.now + validity_max);
  s.set_tag(host.tag(s));
  EXPECT_EQ(host.ask(s), Code::none);
}

// ---- H27: flood -------------------------------------------------------------------------------------------

TEST_F(Hostile, H27_AFloodIsReadInBoundedPiecesAndTheHonestHostGetsThrough) {
  std::mt19937 random{27};
  for (int i = 0; i < 20'000; ++i) {
    jack.serial.to_jack.push_back(static_cast<std::uint8_t>(random() % 7 == 0 ? 0 : random()));
  }
  unsigned ticks = 0;
  while (!jack.serial.to_jack.empty()) {
    const std::size_t before = jack.serial.taken;
    jack.tick();
    ++ticks;
    ASSERT_LE(jack.serial.taken - before, bytes_per_tick);
  }
  EXPECT_GE(ticks, 20'000U / bytes_per_tick);
  EXPECT_GT(jack.session.counters(jack.now).frames_bad, 1'000U);
  EXPECT_TRUE(jack.sent().empty());
  EXPECT_EQ(host.set_clock(5), Code::none);
}

TEST_F(Hostile, H27_OneFrameATickAndNoWaitForAFullLine) {
  jack.serial.room = 100;  // no frame of the log fits
  for (int i = 0; i < 5; ++i) {
    host.send(FrameType::status_get, "");
  }
  jack.handler.records[1] = "r";
  wire::LogGet get;
  get.set_from(1);
  get.set_count(5);
  EXPECT_TRUE(host.send(FrameType::log_get, get.SerializeAsString(), 20).empty());
  jack.serial.room = 2048;  // the line drains: the window is served where it waited
  jack.tick();
  jack.tick();
  EXPECT_EQ(host.answers().size(), 2U);  // the record, and that there is no other
}

// ---- echoes, strangers

TEST_F(Hostile, AnEchoingLineStartsNoQuarrel) {
  wire::Identify i;
  i.set_protocol_major(1);
  host.send(FrameType::identify, i.SerializeAsString());
  std::size_t echoed = 0;
  wire::Status status;
  for (const FrameType t : {FrameType::identity, FrameType::reply, FrameType::status, FrameType::telemetry,
                            FrameType::log_record, FrameType::pair_reply}) {
    host.session = host.last_header.session;
    echoed += host.send(t, status.SerializeAsString(), 3).size();
  }
  EXPECT_EQ(echoed, 0U);
}

TEST_F(Hostile, FramesForAnotherJackAreNotAnswered) {
  host.device = 4712;
  EXPECT_TRUE(host.send(FrameType::status_get, "").empty());
  wire::Identify i;
  i.set_protocol_major(1);
  EXPECT_TRUE(host.send(FrameType::identify, i.SerializeAsString()).empty());
  host.device = 0;
  EXPECT_EQ(host.send(FrameType::identify, i.SerializeAsString()).size(), 1U);
}

TEST_F(Hostile, AnotherMajorIsToldSoAndAnotherMinorIsNot) {
  wire::Identify i;
  i.set_protocol_major(2);
  host.session = 0;
  auto got = host.send(FrameType::identify, i.SerializeAsString());
  ASSERT_EQ(got.size(), 1U);
  wire::Reply r;
  ASSERT_EQ(got[0].first, FrameType::reply);
  ASSERT_TRUE(r.ParseFromString(got[0].second));
  EXPECT_EQ(r.code(), static_cast<std::uint32_t>(Code::other_major));
  i.set_protocol_major(1);
  i.set_protocol_minor(9);
  std::string payload = i.SerializeAsString();
  payload += std::string("\x78\x05", 2);  // field 15, of a later minor: tolerated in what changes nothing
  got = host.send(FrameType::identify, payload);
  ASSERT_EQ(got.size(), 1U);
  EXPECT_EQ(got[0].first, FrameType::identity);
}

TEST_F(Hostile, BeforeTheFirstIdentifyThereIsNoSession) {
  FakeJack fresh;
  fresh.session.start(7, jack.handler.pairing);
  Forger h{fresh};
  fresh.session.start(8, {});
  EXPECT_EQ(h.set_clock(5), Code::other_session);
}

}  // namespace
}  // namespace strandproof::link
