// A gauge table over a line of 115,200 baud, into the whole firmware at a desk: how long it takes, and what a
// cable does that is pulled at each chunk. Times are of the line and of both ends' waiting; the time that a
// board takes to write its flash and to verify a signature comes on top and is measured with the boards.
#include <gtest/gtest.h>

#include <cstdio>
#include <deque>

#include "tests/app/app_bench.hpp"

namespace strandproof::host {
namespace {

using app::Desk;

// 8N1: ten bits a byte.
constexpr double bytes_per_ms = 115'200.0 / 10 / 1000;

// Lets through what a serial line of that rate could have carried by now.
class PacedLine {
 public:
  std::vector<std::uint8_t> tick(const std::vector<std::uint8_t>& in) {
    queue_.insert(queue_.end(), in.begin(), in.end());
    credit_ = queue_.empty() ? 0.0 : credit_ + bytes_per_ms;  // an idle line saves nothing up
    std::vector<std::uint8_t> out;
    while (credit_ >= 1.0 && !queue_.empty()) {
      out.push_back(queue_.front());
      queue_.pop_front();
      credit_ -= 1.0;
    }
    carried_ += out.size();
    return out;
  }
  void cut() { queue_.clear(); }
  [[nodiscard]] std::size_t carried() const { return carried_; }

 private:
  std::deque<std::uint8_t> queue_;
  double credit_ = 0.0;
  std::size_t carried_ = 0;
};

// Counts the chunks that the host sent: what a transfer that resumes does not send again.
class ChunkCounter {
 public:
  void look(const std::vector<std::uint8_t>& bytes) {
    for (const auto b : bytes) {
      wire::Sealed s;
      if (decoder_.push(b) && decoder_.frame().header.type == proto::FrameType::sealed &&
          s.ParseFromArray(decoder_.frame().payload.data(),
                           static_cast<int>(decoder_.frame().payload.size())))
        chunks_ += s.kind() == static_cast<std::uint32_t>(proto::FrameType::table_chunk) ? 1U : 0U;
    }
  }
  void cut() { decoder_.forget(); }
  [[nodiscard]] unsigned chunks() const { return chunks_; }

 private:
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> buffer_{};
  proto::FrameDecoder decoder_{buffer_};
  unsigned chunks_ = 0;
};

struct PacedDesk : Desk {
  void step() {
    const auto sent = peer.take();
    counter.look(sent);
    serial->push(up.tick(sent));
    tick();
    peer.feed(down.tick(serial->take()), sample_tick);
    peer.poll(sample_tick);
  }
  void finish() {
    for (unsigned i = 0; i < 60'000 && peer.busy(); ++i) step();
    ASSERT_FALSE(peer.busy());
    ASSERT_TRUE(peer.last_result().ok()) << peer.last_result().what;
  }
  void pull_the_cable() {
    up.cut();
    down.cut();
    counter.cut();
    peer.line_lost();
    for (unsigned i = 0; i < 500; ++i) {
      (void)serial->take();
      tick();
    }
  }

  PacedLine up, down;
  ChunkCounter counter;
};

constexpr std::size_t chunk = 160;  // bytes, SPEC.md

TEST(TableLine, TheLargestTableIsLoadedAndReadBackInUnderFiveSecondsAt115200Baud) {
  PacedDesk desk;
  desk.pair();
  desk.enrol(1);
  const auto table = app::signed_by(app::table_message(1));
  const auto start = desk.sample_tick;
  desk.peer.identify();
  desk.peer.read_tables();
  desk.peer.load_table(table.bytes, 1, table.signature);
  desk.finish();
  const auto loaded = desk.sample_tick;
  desk.peer.read_tables();
  desk.finish();
  ASSERT_TRUE(desk.peer.tables());
  ASSERT_EQ(desk.peer.tables()->active(), 1U);
  desk.peer.read_table(1, desk.peer.tables()->slot_a().length());
  desk.finish();
  EXPECT_EQ(desk.peer.held().bytes, table.bytes);
  EXPECT_EQ(desk.peer.held().signature, table.signature);
  const auto all = desk.sample_tick - start;
  std::printf(
      "table of %zu bytes at 115200 baud: loaded in %u ms, read back after %u ms; %zu and %zu bytes on "
      "the line\n",
      table.bytes.size(), loaded - start, all, desk.up.carried(), desk.down.carried());
  EXPECT_LT(all, 5'000U);
  // And no faster than the line could have carried it, or the line is no line.
  EXPECT_GT(all, static_cast<double>(desk.up.carried()) / bytes_per_ms);
}

// Cut after the n-th chunk went out, for every n and for the announcement and the commit as well.
TEST(TableLine, AfterACableThatIsPulledAtAnyChunkTheTransferGoesOnWhereItWas) {
  const auto table = app::signed_by(app::table_message(2));
  const auto chunks = static_cast<unsigned>((table.bytes.size() + chunk - 1) / chunk);
  ASSERT_EQ(chunks, 4U) << "24 points a column";
  unsigned cuts = 0;
  for (unsigned sent = 0; sent <= chunks; ++sent) {
    for (const unsigned later_ms : {0U, 5U, 25U, 60U}) {
      PacedDesk desk;
      desk.pair();
      desk.enrol(1);
      ASSERT_EQ(desk.load(1), 0U);
      desk.peer.load_table(table.bytes, 2, table.signature);
      while (desk.counter.chunks() < sent) desk.step();
      for (unsigned i = 0; i < later_ms; ++i) desk.step();
      desk.pull_the_cable();
      ++cuts;
      desk.finish();
      EXPECT_LE(desk.counter.chunks(), chunks + 1) << "begun anew after chunk " << sent;
      const auto after = desk.tables();
      const auto& slot = after.active() == 1 ? after.slot_a() : after.slot_b();
      EXPECT_EQ(slot.revision(), 2U);
      desk.peer.read_table(after.active(), slot.length());
      desk.finish();
      EXPECT_EQ(desk.peer.held().bytes, table.bytes) << "after chunk " << sent;
    }
  }
  std::printf("cable pulled %u times, at each of %u chunks: the table arrived whole each time\n", cuts,
              chunks);
}

}  // namespace
}  // namespace strandproof::host
