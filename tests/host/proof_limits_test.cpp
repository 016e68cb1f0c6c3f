// What the chain can not prove, as firmware/record/README.md says: each of these goes unseen, so that nobody
// promises it, and what is left that finds it.
#include <gtest/gtest.h>

#include "tests/host/forged_log.hpp"

namespace strandproof::host::proof {
namespace {

TEST(ProofLimits, WithTheChipTheHeldHeadFindsItWithoutAnyKey) {
  const Log& log = shared();
  auto records = log.records;
  const std::size_t i = log.at(40);
  other_force(records[i]);
  make_all(log, records, i, log.jack.signer(), [](const Seal&) { return Tag{}; });
  Question q = question_of(log.jack, records, false);
  EXPECT_TRUE(verify(q).findings.empty()) << "not promised: public key alone, no head, an opened jack";
  q.held = log.whole.head;
  EXPECT_TRUE(names(verify(q), Kind::other_past, log.whole.head->sequence));
}

// ---- what can not be found: each as the document says

TEST(ProofLimits, RecordsBehindTheHeadCanBeCutOff) {
  const Log& log = shared();
  const Report early = verify(question_of(log.jack, {log.records.begin(), log.records.begin() + 150}));
  auto records = log.records;
  records.resize(170);
  Question q = question_of(log.jack, records);
  q.held = early.head;
  EXPECT_TRUE(verify(q).findings.empty());
}

TEST(ProofLimits, WithTheChipTheOpenEpochCanBeMadeAnew) {
  const Log& log = shared();
  const std::uint32_t now = log.whole.head->epoch;
  const proto::Key stolen = tag_key(secret_of(log, now));
  auto records = log.records;
  const std::size_t i = records.size() - 1;
  ASSERT_EQ(seal_of(records[i].body)->seal.epoch, now);
  other_force(records[i]);
  make_links(log, records, i, [&](const Seal& s) { return tag_of(stolen, s.link); });
  EXPECT_TRUE(verify(question_of(log.jack, records)).findings.empty());
}

TEST(ProofLimits, WithTheChipAndTheHostsKeyOnlyTheHeadIsLeft) {
  const Log& log = shared();
  auto records = log.records;
  const std::size_t i = log.at(40);
  other_force(records[i]);
  make_all(log, records, i, log.jack.signer(),
           [&](const Seal& s) { return tag_of(tag_key(secret_of(log, s.epoch)), s.link); });
  Question q = question_of(log.jack, records);
  EXPECT_TRUE(verify(q).findings.empty());
  q.held = log.whole.head;
  EXPECT_FALSE(verify(q).findings.empty());
}

TEST(ProofLimits, AnotherHostsPairingLeavesTheTagsUnknownAndSaysSo) {
  ChainMaker jack{4711};
  jack.pair(counting_key(7));
  jack.event(2);
  jack.pair(counting_key(99), 5);
  jack.event(2);
  jack.event(2);
  const Report r = verify(question_of(jack, jack.records()));
  EXPECT_TRUE(r.findings.empty()) << told(r);
  EXPECT_EQ(r.tags_checked, 3U);
  EXPECT_EQ(r.tags_unknown, 5U);
  EXPECT_FALSE(r.head->our_epochs.has_value());
}

}  // namespace
}  // namespace strandproof::host::proof
