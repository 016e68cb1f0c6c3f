// A gauge table over the real link into the whole firmware: cut at every frame of its transfer, by the cable
// and by the power; and how long it takes at 115,200 Bd.
#include <gtest/gtest.h>

#include <cstdio>
#include <deque>

#include "tests/app/app_bench.hpp"

namespace strandproof::app {
namespace {

enum class Cut { cable, power };

// Runs until the host has sent so many frames and the jack has read them; false if it was done before.
bool after_frames(Desk& d, unsigned frames) {
  for (unsigned sent = 0; d.peer.busy() && sent < frames;) {
    const auto bytes = d.peer.take();
    sent += bytes.empty() ? 0U : 1U;
    d.serial->push(bytes);
    for (int i = 0; i < 8; ++i) {  // 64 bytes a tick: the longest frame is read
      d.tick();
    }
    if (sent < frames) {
      d.peer.feed(d.serial->take(), d.sample_tick);
      d.peer.poll(d.sample_tick);
    }
  }
  return d.peer.busy();
}

TEST(TableOverTheLink, CutAtEveryFrameOldOrNewIsActiveAndItGoesOn) {
  const SignedTable next = signed_by(table_message(2));
  unsigned cuts = 0, olds = 0, news = 0;
  for (const Cut cut : {Cut::cable, Cut::power}) {
    for (unsigned frames = 1;; ++frames, ++cuts) {
      Desk d;
      d.pair();
      d.enrol(1);
      ASSERT_EQ(d.load(1), 0U);
      d.peer.load_table(next.bytes, 2, next.signature);
      if (!after_frames(d, frames)) {
        ASSERT_GT(frames, 1 + next.bytes.size() / 160) << "begin, chunks and commit";
        break;
      }
      (void)d.serial->take();
      if (cut == Cut::power) {
        d.boot();
      }
      const wire::Tables t = d.looked_at_by_another();
      const std::uint32_t in_use = t.active() == 1 ? t.slot_a().revision() : t.slot_b().revision();
      ASSERT_EQ(t.refusal(), 0U);
      ASSERT_TRUE(in_use == 1 || in_use == 2) << in_use;
      ++(in_use == 1 ? olds : news);
      d.peer.line_lost();
      ASSERT_TRUE(d.done());
      ASSERT_TRUE(d.peer.last_result().ok()) << d.peer.last_result().what;
      ASSERT_EQ(d.tables().active(), 2U);
    }
  }
  std::printf("%u cuts between frames: %u times the old table, %u times the new one, each time it went on\n",
              cuts, olds, news);
  EXPECT_GE(cuts, 12U);
  EXPECT_EQ(news, 2U) << "behind the commit, once by the cable and once by the power";
}

// 115,200 Bd, 8N1: 11.52 bytes a millisecond each way.
TEST(TableOverTheLink, TakesLessThanFiveSecondsAt115200Baud) {
  Desk d;
  d.pair();
  d.enrol(1);
  const SignedTable t = signed_by(table_message(1));
  d.peer.load_table(t.bytes, 1, t.signature);
  std::deque<std::uint8_t> up, down;
  unsigned ms = 0;
  for (std::size_t may_have = 0; d.peer.busy() && ms < 20'000; ++ms) {
    may_have += 1152;
    const std::size_t now = may_have / 100;
    may_have %= 100;
    const auto carry = [&](std::deque<std::uint8_t>& line, const std::vector<std::uint8_t>& more) {
      line.insert(line.end(), more.begin(), more.end());
      const auto n = static_cast<std::ptrdiff_t>(std::min(now, line.size()));
      std::vector<std::uint8_t> out(line.begin(), line.begin() + n);
      line.erase(line.begin(), line.begin() + n);
      return out;
    };
    d.serial->push(carry(up, d.peer.take()));
    d.tick();
    d.peer.feed(carry(down, d.serial->take()), d.sample_tick);
    if (ms % 10 == 0) {
      d.peer.poll(d.sample_tick);
    }
  }
  EXPECT_TRUE(d.peer.last_result().ok()) << d.peer.last_result().what;
  std::printf("a table of %zu bytes at 115,200 Bd: %u ms\n", t.bytes.size(), ms);
  EXPECT_LT(ms, 5'000U);
}

}  // namespace
}  // namespace strandproof::app
