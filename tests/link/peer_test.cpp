// Both ends of a session against each other: what a host asks for happens at the jack, once, over a clean
// line and over one that loses, doubles and damages bytes.
#include <gtest/gtest.h>

#include "tests/link/pipe.hpp"
#include "tests/link/table_bytes.hpp"

namespace strandproof::link {
namespace {

using proto::Outcome;

TEST(Peer, PairsWhenThePersonConfirmsTheSameDigits) {
  Pipe p;
  p.pair();
  EXPECT_TRUE(p.peer.last_result().ok()) << p.peer.last_result().what;
  EXPECT_GE(p.digits_at_host, 100'000U);
  EXPECT_LE(p.digits_at_host, 999'999U);
  EXPECT_EQ(p.digits_at_host, p.digits_at_jack);
  EXPECT_EQ(p.jack.handler.pairing.key, proto::seal_key(p.keys.key));
  EXPECT_EQ(p.jack.handler.chain_key, proto::chain_key(p.keys.key));
  p.peer.identify();
  ASSERT_TRUE(p.run());
  EXPECT_TRUE(p.peer.identity()->paired());
}

TEST(Peer, PairingEndsWhenNobodyConfirms) {
  Pipe p;
  p.jack.handler.open = true;
  p.peer.pair();
  while (p.peer.busy() && p.jack.now < pairing_ticks) {
    p.tick();
    p.jack.handler.open = p.jack.now < 30'000;
  }
  ASSERT_TRUE(p.run(2'000));
  EXPECT_EQ(p.peer.last_result().code, static_cast<std::uint32_t>(Code::pairing_lapsed));
  EXPECT_EQ(p.jack.handler.shown, 0U);
  EXPECT_EQ(p.jack.handler.pairing.host_id, 0U);
}

TEST(Peer, PairingIsRefusedWhileTheWindowIsClosed) {
  Pipe p;
  p.peer.pair();
  ASSERT_TRUE(p.run());
  EXPECT_EQ(p.peer.last_result().outcome, Outcome::refused);
  EXPECT_EQ(p.peer.last_result().what, "PAIRING NOT OPEN: choose PAIR A HOST at the pendant");
}

TEST(Peer, DoesEveryJob) {
  Pipe p;
  p.pair();
  wire::PullInstruction i;
  i.set_id(12);
  i.set_bed_name("BED 3");
  wire::BedEntry e;
  e.set_position(4);
  e.set_by("foreman");
  p.peer.set_clock(1'800'000'000);
  p.peer.send_instruction(i);
  p.peer.enter(e);
  p.peer.release_records(9, {.id = 5, .name = "yard office"});
  p.peer.read_status();
  ASSERT_TRUE(p.run());
  EXPECT_TRUE(p.peer.last_result().ok());
  EXPECT_EQ(p.jack.handler.calls, (std::vector<std::string>{"clock 1800000000", "instruction 12 BED 3",
                                                            "entry 4 foreman", "release 9 yard office"}));
  ASSERT_TRUE(p.peer.status().has_value());
  EXPECT_EQ(p.peer.status()->state(), 3U);
  EXPECT_EQ(p.peer.status()->display(0), "NO LOAD");
}

TEST(Peer, TellsWhyTheJackRefused) {
  Pipe p;
  p.pair();
  p.jack.handler.answer = Code::under_load;
  std::string what;
  p.peer.set_clock(5, [&](const proto::Result& r) { what = r.what; });
  ASSERT_TRUE(p.run());
  EXPECT_EQ(what, "NOT WHILE UNDER LOAD: seat or lower first");
}

TEST(Peer, LoadsATableInChunksAndResumesAfterACut) {
  Pipe p;
  p.pair();
  const TableBytes table = signed_table(3, host_keys());
  ASSERT_GT(table.bytes.size(), 320U);  // three chunks at least
  p.peer.load_table(table.bytes, 3, table.signature);
  const auto begun = p.jack.now;
  while (p.peer.busy() && p.jack.now < begun + 10) {
    p.tick();
  }
  ASSERT_TRUE(p.peer.busy());
  p.peer.line_lost();
  p.jack.serial.to_jack.clear();
  ASSERT_TRUE(p.run());
  EXPECT_TRUE(p.peer.last_result().ok()) << p.peer.last_result().what;
  EXPECT_EQ(p.jack.handler.table, table.bytes);
}

TEST(Peer, ATableWithAForeignSignatureIsRefused) {
  Pipe p;
  p.pair();
  TableBytes table = signed_table(3, host_keys());
  table.signature[10] ^= 1U;
  p.peer.load_table(table.bytes, 3, table.signature);
  ASSERT_TRUE(p.run());
  EXPECT_EQ(p.peer.last_result().code, static_cast<std::uint32_t>(Code::table_signature));
  EXPECT_TRUE(p.jack.handler.calls.empty());
}

TEST(Peer, TheTableIsNotChangedWhileTheJackWorks) {
  Pipe p;
  p.pair();
  p.jack.handler.rest = false;
  const TableBytes table = signed_table(3, host_keys());
  p.peer.load_table(table.bytes, 3, table.signature);
  ASSERT_TRUE(p.run());
  EXPECT_EQ(p.peer.last_result().code, static_cast<std::uint32_t>(Code::busy));
  EXPECT_EQ(p.jack.handler.table_revision, 0U);
}

TEST(Peer, FetchesEveryRecordOverGapsInTheSequence) {
  Pipe p;
  for (std::uint64_t s = 5; s < 400; s += 1 + s % 3) {
    p.jack.handler.records[s] = "record " + std::to_string(s);
  }
  std::map<std::uint64_t, std::string> got;
  p.peer.on_record = [&](const wire::LogRecord& r) {
    EXPECT_TRUE(got.emplace(r.sequence(), r.body()).second) << "twice: " << r.sequence();
  };
  p.peer.fetch_log(1);
  ASSERT_TRUE(p.run());
  EXPECT_TRUE(p.peer.last_result().ok());
  EXPECT_EQ(got, p.jack.handler.records);
}

TEST(Peer, ReadsTelemetryAtItsPeriod) {
  Pipe p;
  std::vector<std::uint64_t> at;
  p.peer.on_telemetry = [&](const wire::Telemetry& t) { at.push_back(t.now_ms()); };
  p.peer.set_telemetry(50);
  for (int i = 0; i < 1'020; ++i) {
    p.tick();
  }
  ASSERT_GE(at.size(), 20U);
  for (std::size_t i = 1; i < at.size(); ++i) {
    EXPECT_EQ(at[i] - at[i - 1], 50U);
  }
  p.peer.set_telemetry(19);
  ASSERT_TRUE(p.run());
  EXPECT_EQ(p.peer.last_result().code, static_cast<std::uint32_t>(Code::malformed));
}

TEST(Peer, ASilentJackIsAResultAndNotAWait) {
  Pipe p;
  p.to_jack = [](auto) { return std::vector<std::uint8_t>{}; };
  p.peer.read_status();
  ASSERT_TRUE(p.run(10'000));
  EXPECT_EQ(p.peer.last_result().outcome, Outcome::no_answer);
  EXPECT_EQ(p.jack.now, 6U * 400U + 1U);
}

TEST(Peer, GoesOnWithAJackThatWasOffInBetween) {
  Pipe p;
  p.pair();
  const Pairing known = p.jack.handler.pairing;
  p.jack.session.start(8, known);
  p.peer.set_clock(77);
  ASSERT_TRUE(p.run());
  EXPECT_TRUE(p.peer.last_result().ok()) << p.peer.last_result().what;
  EXPECT_EQ(p.jack.handler.calls, std::vector<std::string>{"clock 77"});
}

TEST(Peer, AnotherJackThanTheOneExpectedIsNamed) {
  FakeJack jack;
  proto::Peer peer{host_keys(), 4712};
  peer.identify();
  for (int i = 0; i < 100 && peer.busy(); ++i) {
    const auto up = peer.take();
    jack.serial.to_jack.insert(jack.serial.to_jack.end(), up.begin(), up.end());
    jack.tick();
    peer.feed(jack.sent(), jack.now);
    peer.poll(jack.now);
  }
  EXPECT_EQ(peer.last_result().outcome, Outcome::wrong_jack);
  EXPECT_EQ(peer.last_result().what, "jack 4711 answers, not jack 4712: check which cable goes where");
}

TEST(Peer, WhatDoesNotFitIsNotSent) {
  Pipe p;
  wire::PullInstruction i;
  i.set_bed_name(std::string(24, 'x'));
  p.peer.send_instruction(i);
  EXPECT_EQ(p.peer.last_result().outcome, Outcome::bad_request);
  i.set_bed_name("S\xC3\xBC");
  p.peer.send_instruction(i);
  EXPECT_EQ(p.peer.last_result().outcome, Outcome::bad_request);
  p.peer.load_table(std::vector<std::uint8_t>(961), 1, {});
  EXPECT_EQ(p.peer.last_result().outcome, Outcome::bad_request);
  EXPECT_FALSE(p.peer.busy());
}

// ---- a bad line -----------------------------------------------------------------------------------------

// Each byte is lost, damaged or doubled with a probability of 1/rate.
Line noisy(std::mt19937& random, unsigned rate) {
  return [&random, rate](std::vector<std::uint8_t> bytes) {
    std::vector<std::uint8_t> out;
    for (const std::uint8_t b : bytes) {
      switch (random() % (3 * rate)) {
        case 0:
          break;
        case 1:
          out.push_back(static_cast<std::uint8_t>(b ^ (1U << (random() % 8))));
          break;
        case 2:
          out.insert(out.end(), 2, b);
          break;
        default:
          out.push_back(b);
      }
    }
    return out;
  };
}

class BadLine : public testing::TestWithParam<unsigned> {};

TEST_P(BadLine, EverythingArrivesOnceAndInOrder) {
  std::mt19937 random{GetParam()};
  Pipe p{host_keys(), {.attempts = 40}};
  p.pair();
  for (std::uint64_t s = 1; s <= 60; ++s) {
    p.jack.handler.records[s * 2] = std::string(s, 'r');
  }
  std::map<std::uint64_t, std::string> got;
  unsigned doubled = 0;
  p.peer.on_record = [&](const wire::LogRecord& r) {
    doubled += got.emplace(r.sequence(), r.body()).second ? 0 : 1;
  };
  p.to_jack = noisy(random, 400);
  p.to_host = noisy(random, 400);
  const TableBytes table = signed_table(3, host_keys());
  std::vector<std::string> wanted;
  for (unsigned i = 1; i <= 20; ++i) {
    p.peer.set_clock(1'000 + i);
    wanted.push_back("clock " + std::to_string(1'000 + i));
  }
  p.peer.load_table(table.bytes, 3, table.signature);
  wanted.emplace_back("table 3");
  p.peer.fetch_log(1);
  ASSERT_TRUE(p.run()) << "seed " << GetParam();
  EXPECT_TRUE(p.peer.last_result().ok()) << p.peer.last_result().what << ", seed " << GetParam();
  EXPECT_EQ(p.jack.handler.calls, wanted) << "seed " << GetParam();
  EXPECT_EQ(got, p.jack.handler.records) << "seed " << GetParam();
  EXPECT_EQ(doubled, 0U);
  // The line did harm: otherwise this test shows nothing.
  EXPECT_GT(p.jack.session.counters(p.jack.now).frames_bad + p.peer.counters().bad, 5U);
}

INSTANTIATE_TEST_SUITE_P(Seeds, BadLine, testing::Range(1U, 26U));

}  // namespace
}  // namespace strandproof::link
