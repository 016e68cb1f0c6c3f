// The log over a bad line: each record once and in order, whatever becomes of the frames; and a window that
// bounds what the jack sends ahead of a host that has gone.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>

#include "tests/link/forge.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;
using Frames = std::vector<std::vector<std::uint8_t>>;

constexpr std::uint64_t newest = 300;

// Sequences with gaps, bodies of every length.
std::map<std::uint64_t, std::string> some_log() {
  std::map<std::uint64_t, std::string> log;
  for (std::uint64_t s = 3; s <= newest; s += s % 7 == 0 ? 2 : 1) {
    log[s] = std::string(1 + (s * 37) % 448, static_cast<char>('a' + s % 26));
  }
  return log;
}

// What a fetch has brought, and how often it was wrong.
struct Got {
  explicit Got(Pipe& p) {
    p.peer.on_record = [this](const wire::LogRecord& r) {
      doubled += records.emplace(r.sequence(), r.body()).second ? 0U : 1U;
      disordered += r.sequence() > last ? 0U : 1U;
      last = r.sequence();
    };
  }
  [[nodiscard]] unsigned lost(const std::map<std::uint64_t, std::string>& log) const {
    unsigned n = 0;
    for (const auto& [sequence, body] : log) {
      const auto found = records.find(sequence);
      n += found == records.end() || found->second != body ? 1U : 0U;
    }
    return n;
  }
  std::map<std::uint64_t, std::string> records;
  std::uint64_t last = 0;
  unsigned doubled = 0, disordered = 0;
};

// Of the jack or the peer: each begins and ends with a zero of its own.
Frames frames_of(const std::vector<std::uint8_t>& bytes) {
  Frames all;
  std::vector<std::uint8_t> frame;
  for (const std::uint8_t b : bytes) {
    frame.push_back(b);
    if (b == 0 && frame.size() > 1) {
      all.push_back(std::exchange(frame, {}));
    }
  }
  return all;
}

enum class Harm { loses, doubles, swaps, damages, everything };

struct Bad {
  Harm harm;
  unsigned seed;
};
void PrintTo(const Bad& b, std::ostream* to) {
  *to << "harm " << static_cast<int>(b.harm) << " seed " << b.seed;
}

// One frame of ten comes to harm.
Line harmful(const Bad& bad, std::mt19937& random, unsigned& harmed, std::vector<std::uint8_t>& held) {
  return [&bad, &random, &harmed, &held](const std::vector<std::uint8_t>& bytes) {
    std::vector<std::uint8_t> out;
    for (auto& frame : frames_of(bytes)) {
      Harm harm = bad.harm == Harm::everything ? static_cast<Harm>(random() % 4) : bad.harm;
      const bool hit = random() % 10 == 0;
      harmed += hit ? 1U : 0U;
      if (hit && harm == Harm::damages) {
        frame[random() % frame.size()] ^= static_cast<std::uint8_t>(1U << (random() % 8));
      }
      if (hit && harm == Harm::swaps && held.empty()) {
        held = frame;
        continue;
      }
      if (!(hit && harm == Harm::loses)) {
        out.insert(out.end(), frame.begin(), frame.end());
      }
      if (hit && harm == Harm::doubles) {
        out.insert(out.end(), frame.begin(), frame.end());
      }
      out.insert(out.end(), held.begin(), held.end());
      held.clear();
    }
    return out;
  };
}

class BadFrames : public testing::TestWithParam<Bad> {};

TEST_P(BadFrames, BringEachRecordOnce) {
  Pipe p{host_keys(), {.attempts = 40}};
  p.pair();
  p.jack.handler.records = some_log();
  std::mt19937 random{GetParam().seed};
  unsigned harmed = 0;
  std::vector<std::uint8_t> up, down;
  p.to_jack = harmful(GetParam(), random, harmed, up);
  p.to_host = harmful(GetParam(), random, harmed, down);
  Got got{p};
  p.peer.fetch_log(1);
  ASSERT_TRUE(p.run());
  ASSERT_TRUE(p.peer.last_result().ok()) << p.peer.last_result().what;
  const unsigned lost = got.lost(p.jack.handler.records);
  std::printf("%u of the frames harmed: lost %u, doubled %u, out of order %u\n", harmed, lost, got.doubled,
              got.disordered);
  EXPECT_EQ(lost + got.doubled + got.disordered, 0U);
  EXPECT_EQ(got.records.size(), p.jack.handler.records.size());
  EXPECT_GT(harmed, 10U);
}

std::vector<Bad> bad_lines() {
  std::vector<Bad> all;
  for (const Harm h : {Harm::loses, Harm::doubles, Harm::swaps, Harm::damages, Harm::everything}) {
    for (unsigned seed = 1; seed <= 5; ++seed) {
      all.push_back({h, seed});
    }
  }
  return all;
}
INSTANTIATE_TEST_SUITE_P(Harms, BadFrames, testing::ValuesIn(bad_lines()));

// The cable out before the n-th frame of the jack and in again, for every n of a whole fetch; what was in the
// send buffer is gone. Each fetch goes on by itself.
TEST(Window, ACablePulledAtEveryFrameLosesAndDoublesNothing) {
  unsigned cuts = 0, lost = 0, doubled = 0;
  for (unsigned at = 0;; ++at) {
    Pipe p;
    p.pair();
    p.jack.handler.records = some_log();
    Got got{p};
    unsigned frames = 0;
    bool cut = false;
    p.to_host = [&](const std::vector<std::uint8_t>& bytes) {
      std::vector<std::uint8_t> out;
      for (const auto& frame : frames_of(bytes)) {
        if (!cut && frames++ == at) {
          cut = true;
          out.insert(out.end(), frame.begin(), frame.begin() + static_cast<std::ptrdiff_t>(frame.size() / 2));
          return out;
        }
        out.insert(out.end(), frame.begin(), frame.end());
      }
      return out;
    };
    p.peer.fetch_log(1);
    while (p.peer.busy() && !cut) {
      p.tick();
    }
    if (!cut) {
      break;
    }
    p.peer.line_lost();
    p.jack.serial.to_jack.clear();
    ASSERT_TRUE(p.run()) << at;
    ASSERT_TRUE(p.peer.last_result().ok()) << p.peer.last_result().what << " at frame " << at;
    lost += got.lost(p.jack.handler.records);
    doubled += got.doubled + got.disordered;
    ++cuts;
  }
  std::printf("%u cuts, one at each frame: lost %u, doubled %u\n", cuts, lost, doubled);
  EXPECT_GT(cuts, some_log().size());
  EXPECT_EQ(lost, 0U);
  EXPECT_EQ(doubled, 0U);
}

TEST(Window, ADamagedFrameCostsNoWait) {
  Pipe p;
  p.pair();
  p.jack.handler.records = some_log();
  Got got{p};
  bool damaged = false;
  p.to_host = [&](std::vector<std::uint8_t> bytes) {
    if (!damaged && got.last > 20 && bytes.size() > 30) {
      bytes[20] ^= 1U;
      damaged = true;
    }
    return bytes;
  };
  const auto begun = p.jack.now;
  p.peer.fetch_log(1);
  ASSERT_TRUE(p.run());
  EXPECT_TRUE(damaged);
  EXPECT_EQ(got.lost(p.jack.handler.records), 0U);
  EXPECT_LT(p.jack.now - begun, p.jack.handler.records.size() + 50U) << "a record a tick, and no timeout";
}

wire::LogGet get(std::uint64_t from, std::uint32_t count, std::uint32_t run) {
  wire::LogGet g;
  g.set_from(from);
  g.set_count(count);
  g.set_run(run);
  return g;
}

class LogWindow : public Hostile {
 protected:
  void SetUp() override { jack.handler.records = some_log(); }
  // The sequences that come within so many ticks.
  std::vector<std::uint64_t> ask(const wire::LogGet& g, unsigned ticks = 600) {
    std::vector<std::uint64_t> sequences;
    auto answers = host.send(FrameType::log_get, g.SerializeAsString(), 0);
    for (unsigned i = 0; i < ticks; ++i) {
      for (const auto& [type, payload] : answers) {
        EXPECT_EQ(type, FrameType::log_record);
        wire::LogRecord r;
        EXPECT_TRUE(r.ParseFromString(payload));
        EXPECT_EQ(r.run(), g.run());
        sequences.push_back(r.sequence());
      }
      jack.tick();
      answers = host.answers();
    }
    return sequences;
  }
};

TEST_F(LogWindow, IsBoundedWhateverTheHostAsksFor) {
  const auto some = ask(get(10, UINT32_MAX, 1));
  ASSERT_FALSE(some.empty());
  EXPECT_EQ(some.front(), 10U);
  EXPECT_EQ(some.back(), 10U + log_window_max - 1U);
  EXPECT_TRUE(ask(get(10, 5, 1)).empty()) << "a window is never drawn back";
}

TEST_F(LogWindow, TheSameRunGoesOnAndAnotherOneGoesBack) {
  EXPECT_EQ(ask(get(10, 3, 1)), (std::vector<std::uint64_t>{10, 11, 12}));
  EXPECT_EQ(ask(get(12, 3, 1)), (std::vector<std::uint64_t>{13, 14}));
  EXPECT_EQ(ask(get(11, 2, 2)), (std::vector<std::uint64_t>{11, 12}));
}

TEST_F(LogWindow, EndsWithAFrameThatHoldsNone) {
  const auto tail = ask(get(newest, 10, 1));
  EXPECT_EQ(tail, (std::vector<std::uint64_t>{newest, 0}));
  EXPECT_EQ(ask(get(UINT64_MAX, UINT32_MAX, 3)), std::vector<std::uint64_t>{}) << "no number lies behind it";
  EXPECT_EQ(ask(get(UINT64_MAX - 1, 1, 4)), std::vector<std::uint64_t>{0});
}

TEST_F(LogWindow, OfAnEarlierSessionIsForgotten) {
  jack.serial.room = 0;  // nothing goes out before the next identify
  EXPECT_TRUE(ask(get(10, 100, 1), 1).empty());
  jack.serial.room = 2048;
  host.identify();
  EXPECT_EQ(ask(get(20, 1, 1)), std::vector<std::uint64_t>{20}) << "the run is a new one";
}

TEST_F(LogWindow, AFullQueueTakesNoRecordAndLeavesRoomForAReply) {
  jack.serial.room = 1 << 16;
  (void)jack.sent();
  const std::string window = get(10, 100, 1).SerializeAsString();
  std::array<std::uint8_t, proto::frame_max> frame{};
  const std::size_t n =
      proto::encode_frame({.type = FrameType::log_get, .device = 4711, .session = host.session},
                          {reinterpret_cast<const std::uint8_t*>(window.data()), window.size()}, frame);
  jack.serial.to_jack.insert(jack.serial.to_jack.end(), frame.begin(),
                             frame.begin() + static_cast<std::ptrdiff_t>(n));
  for (int i = 0; i < 200; ++i) {
    jack.tick();
  }
  EXPECT_GT(jack.serial.from_jack.size(), log_backlog - 1) << "it sent what it may";
  EXPECT_LT(jack.serial.from_jack.size(), log_backlog + proto::frame_max);
}

TEST_F(LogWindow, WaitsWhileOilMoves) {
  jack.handler.moves = true;
  wire::Reply reply;
  const auto answers = host.send(FrameType::log_get, get(1, 3, 1).SerializeAsString(), 100);
  ASSERT_EQ(answers.size(), 1U);
  ASSERT_TRUE(reply.ParseFromString(answers[0].second));
  EXPECT_EQ(reply.code(), static_cast<std::uint32_t>(Code::busy));
}

// A pull of twenty seconds in the middle of a fetch.
TEST(Window, AFetchWaitsForTheEndOfAPullAndSaysSo) {
  Pipe p;
  p.pair();
  p.jack.handler.records = some_log();
  Got got{p};
  unsigned waits = 0;
  p.peer.on_log_waits = [&] { ++waits; };
  p.peer.fetch_log(1);
  for (int i = 0; i < 20'100; ++i) {
    p.jack.handler.moves = i >= 100;
    p.tick();
  }
  const std::size_t while_moving = got.records.size();
  p.jack.handler.moves = false;
  ASSERT_TRUE(p.run());
  EXPECT_TRUE(p.peer.last_result().ok()) << p.peer.last_result().what;
  EXPECT_LT(while_moving, 120U);
  EXPECT_GT(waits, 20U);
  EXPECT_EQ(got.lost(p.jack.handler.records) + got.doubled, 0U);
}

TEST(Window, ALineThatSpoilsEveryRecordEndsTheFetch) {
  Pipe p;
  p.pair();
  p.jack.handler.records = some_log();
  p.to_host = [](const std::vector<std::uint8_t>& bytes) {
    std::vector<std::uint8_t> out;
    for (auto& frame : frames_of(bytes)) {
      if (frame.size() == 2 + 1 + 1 + 16 + 5 || frame.size() > 150) {
        frame[frame.size() / 2] ^= 2U;
      }
      out.insert(out.end(), frame.begin(), frame.end());
    }
    return out;
  };
  p.peer.fetch_log(1);
  ASSERT_TRUE(p.run(100'000));
  EXPECT_EQ(p.peer.last_result().outcome, proto::Outcome::no_answer);
}

}  // namespace
}  // namespace strandproof::link
