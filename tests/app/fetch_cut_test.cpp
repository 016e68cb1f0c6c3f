// A jack that loses its power in the middle of a fetch, in any tick of it: the host goes on by itself, and
// has each record once and in order.
#include <gtest/gtest.h>

#include <cstdio>
#include <map>

#include "tests/app/app_bench.hpp"

namespace strandproof::app {
namespace {

constexpr unsigned records = 60;

struct Outcome {
  bool cut = false;
  unsigned lost = 0, wrong = 0;
};

// Fetches a log of some records; the power goes in the tick `cut_at` of it.
Outcome fetch_with_a_cut(unsigned cut_at) {
  Desk d;
  d.pair();
  for (unsigned i = 0; i < records; ++i) {
    d.peer.set_clock(1'800'000'000 + i);
  }
  EXPECT_TRUE(d.done());
  d.run(400);  // the checkpoint of the pairing
  d.peer.identify();
  EXPECT_TRUE(d.done());
  const std::uint64_t newest = d.peer.identity()->last_record();
  std::map<std::uint64_t, std::string> got;
  Outcome o;
  std::uint64_t next = 1;
  d.peer.on_record = [&](const wire::LogRecord& r) {
    o.wrong += r.from() != next || !got.emplace(r.sequence(), r.body()).second ? 1U : 0U;
    next = r.sequence() + 1;
  };
  d.peer.fetch_log(1);
  for (unsigned i = 0; i < cut_at && d.peer.busy(); ++i) {
    d.run(1);
  }
  o.cut = d.peer.busy();
  d.boot();
  EXPECT_TRUE(d.done());
  EXPECT_TRUE(d.peer.last_result().ok()) << d.peer.last_result().what << ", cut in tick " << cut_at;
  for (std::uint64_t s = 1; s <= newest; ++s) {  // without a cut in its own writing the log has no gap
    o.lost += got.contains(s) ? 0U : 1U;
  }
  return o;
}

TEST(FetchCut, AtAnyTickLosesAndDoublesNothing) {
  unsigned cuts = 0, lost = 0, wrong = 0;
  for (unsigned at = 1;; ++at) {
    const Outcome o = fetch_with_a_cut(at);
    lost += o.lost;
    wrong += o.wrong;
    if (!o.cut) {
      break;
    }
    ++cuts;
  }
  std::printf("%u power cuts in a fetch of %u records and more: lost %u, doubled or out of order %u\n", cuts,
              records, lost, wrong);
  EXPECT_GT(cuts, records);
  EXPECT_EQ(lost, 0U);
  EXPECT_EQ(wrong, 0U);
}

}  // namespace
}  // namespace strandproof::app
