// H29: attacks on a log, each as somebody would make it, with what they know: nothing, or the chip, or the
// chip and the host's key. What is found must be named; what can not be found is here as well, so that nobody
// promises it.
#include <gtest/gtest.h>

#include <iostream>

#include "tests/host/forged_log.hpp"

namespace strandproof::host::proof {
namespace {

// ---- without any key

TEST(ProofAttack, EachRecordTakenOutIsNamedByTheOneBehindIt) {
  const Log& log = shared();
  std::uint64_t found = 0;
  for (std::size_t i = 0; i + 1 < log.records.size(); ++i) {
    for (const bool key : {true, false}) {
      auto records = log.records;
      records.erase(records.begin() + static_cast<std::ptrdiff_t>(i));
      Question q = question_of(log.jack, records, key);
      q.held = log.whole.head;
      q.whole = true;
      const Report r = verify(q);
      ASSERT_TRUE(names(r, Kind::missing, log.records[i + 1].sequence)) << i << "\n" << told(r);
      ++found;
    }
  }
  std::cout << found << " of " << 2 * (log.records.size() - 1) << " deletions named\n";
}

TEST(ProofAttack, ARunOfRecordsTakenOutIsNamed) {
  const Log& log = shared();
  for (std::size_t length : {2U, 10U, 40U, 150U}) {
    for (std::size_t from = 1; from + length < log.records.size(); from += 13) {
      auto records = log.records;
      records.erase(records.begin() + static_cast<std::ptrdiff_t>(from),
                    records.begin() + static_cast<std::ptrdiff_t>(from + length));
      const Report r = verify(question_of(log.jack, records));
      ASSERT_TRUE(names(r, Kind::missing, log.records[from + length].sequence)) << told(r);
    }
  }
}

TEST(ProofAttack, TwoRecordsThatChangePlacesAreBothNamed) {
  const Log& log = shared();
  for (std::size_t i = 6; i + 1 < log.records.size(); ++i) {
    auto records = log.records;
    std::swap(records[i], records[i + 1]);  // as they stand
    const Report stood = verify(question_of(log.jack, records));
    ASSERT_TRUE(names(stood, Kind::order, log.records[i].sequence)) << told(stood);
    records = log.records;  // what they say, under each other's number
    std::swap(records[i].body, records[i + 1].body);
    const Report said = verify(question_of(log.jack, records));
    ASSERT_TRUE(names(said, Kind::changed, log.records[i].sequence)) << told(said);
    ASSERT_GE(said.findings.size(), 2U);
    EXPECT_EQ(said.findings[1].sequence, log.records[i + 1].sequence) << told(said);
  }
}

TEST(ProofAttack, ARecordThatIsThereTwiceIsNamed) {
  const Log& log = shared();
  for (std::size_t i = 0; i < log.records.size(); ++i) {
    auto records = log.records;
    records.insert(records.begin() + static_cast<std::ptrdiff_t>(i), log.records[i]);
    const Report same = verify(question_of(log.jack, records));
    ASSERT_TRUE(names(same, Kind::doubled, log.records[i].sequence)) << told(same);
    records = log.records;  // at the end, under a number of its own
    records.push_back(log.records[i]);
    records.back().sequence = log.records.back().sequence + 1;
    const Report again = verify(question_of(log.jack, records));
    ASSERT_FALSE(again.findings.empty());
    ASSERT_EQ(again.findings[0].sequence, records.back().sequence) << told(again);
  }
}

TEST(ProofAttack, AStretchOfAnotherJackIsNamedFromItsFirstRecord) {
  const Log& log = shared();
  ChainMaker other{4712, 50};
  const auto foreign = two_hundred(other);
  for (std::size_t from = 20; from < 180; from += 16) {
    for (const bool key : {true, false}) {
      auto records = log.records;
      std::copy_n(foreign.begin() + static_cast<std::ptrdiff_t>(from), 9,
                  records.begin() + static_cast<std::ptrdiff_t>(from));
      const Report r = verify(question_of(log.jack, records, key));
      ASSERT_FALSE(r.findings.empty());
      EXPECT_EQ(r.findings[0].sequence, records[from].sequence) << told(r);
    }
  }
}

TEST(ProofAttack, AnotherPastOfTheSameJackIsNamed) {  // a memory that was copied back, and gone on from there
  const Log& log = shared();
  ChainMaker twin{4711};
  for (int i = 0; i < 3; ++i) {
    twin.event(2);
  }
  twin.pair(counting_key(7));
  for (int i = 0; i < 190; ++i) {
    twin.event(i < 30 ? 3 + (1 + static_cast<std::uint32_t>(i)) % 5 : 9);
    if (i % 18 == 17) {
      twin.checkpoint();
    }
  }
  Question q = question_of(log.jack, twin.records());
  q.held = log.whole.head;
  const Report r = verify(q);
  EXPECT_TRUE(names(r, Kind::other_past, log.whole.head->sequence) ||
              names(r, Kind::truncated, q.records.back().sequence))
      << told(r);
}

TEST(ProofAttack, EveryTruncationBeforeTheHeldHeadIsNamed) {
  const Log& log = shared();
  std::uint64_t found = 0;
  for (std::size_t left = 1; left < log.records.size(); ++left) {
    auto records = log.records;
    records.resize(left);
    Question q = question_of(log.jack, records, left % 2 == 0);
    q.held = log.whole.head;
    const Report r = verify(q);
    ASSERT_TRUE(names(r, Kind::truncated, records.back().sequence)) << told(r);
    ++found;
  }
  std::cout << found << " truncations named\n";
}

TEST(ProofAttack, ABeginningThatIsCutOffIsNamedByTheHeadAndSaidWithoutIt) {
  const Log& log = shared();
  auto records = log.records;
  records.erase(records.begin(), records.begin() + 30);
  Question q = question_of(log.jack, records);
  q.whole = true;
  const Report without = verify(q);
  EXPECT_EQ(without.begins_at, records[0].sequence) << "not a finding, but never silent";
  q.held = log.whole.head;
  const Report with = verify(q);
  EXPECT_TRUE(names(with, Kind::missing, records[0].sequence)) << told(with);
}

// ---- with tools: links can be made by anyone

TEST(ProofAttack, LinksMadeAnewAreFoundByTheTagAndByTheNextCheckpoint) {
  const Log& log = shared();
  const std::uint64_t signed_to = log.whole.head->signed_up_to;
  int tried = 0;
  for (std::size_t i = 6; i < log.records.size(); i += 5) {
    if (!is_event(log.records[i])) {
      continue;
    }
    auto records = log.records;
    other_force(records[i]);
    make_links(log, records, i, [&](const Seal& s) { return old_tag(log, s); });
    const Report with = verify(question_of(log.jack, records));
    EXPECT_TRUE(names(with, Kind::tag, records[i].sequence)) << told(with);
    const Report alone = verify(question_of(log.jack, records, false));
    const bool covered = records[i].sequence <= signed_to;
    EXPECT_EQ(!alone.findings.empty(), covered) << told(alone);
    if (covered) {
      EXPECT_TRUE(alone.findings[0].kind == Kind::checkpoint) << told(alone);
    }
    ++tried;
  }
  EXPECT_GT(tried, 25);
}

TEST(ProofAttack, AnotherJacksCheckpointIsNamed) {
  const Log& log = shared();
  const ChainMaker other{4712, 50};
  for (std::size_t i = 6; i < log.records.size(); ++i) {
    if (is_event(log.records[i])) {
      continue;
    }
    auto records = log.records;
    Checkpoint c = *checkpoint_of(records[i].body);
    const std::string end = records[i].body.substr(records[i].body.size() - seal_size);
    records[i].body = ChainMaker::signed_content(c, other.signer()) + end;  // its key over our words
    const auto right_tag = [&](const Seal& s) { return tag_of(tag_key(secret_of(log, s.epoch)), s.link); };
    make_links(log, records, i, right_tag);
    EXPECT_TRUE(names(verify(question_of(log.jack, records)), Kind::other_jack, records[i].sequence));
    c.device = 4712;
    records[i].body = ChainMaker::signed_content(c, other.signer()) + end;
    make_links(log, records, i, right_tag);
    EXPECT_TRUE(names(verify(question_of(log.jack, records)), Kind::other_jack, records[i].sequence));
  }
}

// ---- with the chip: the signing key and the present secret, not those of epochs that have ended

TEST(ProofAttack, SealedAnewWithALaterKeyIsNamedRecordByRecord) {
  const Log& log = shared();
  const std::uint32_t now = log.whole.head->epoch;
  const proto::Key stolen = tag_key(secret_of(log, now));
  const std::size_t i = log.at(40);
  ASSERT_TRUE(is_event(log.records[i]));
  auto records = log.records;
  other_force(records[i]);
  make_all(log, records, i, log.jack.signer(), [&](const Seal& s) { return tag_of(stolen, s.link); });
  const Report r = verify(question_of(log.jack, records));
  std::uint64_t of_old_epochs = 0;
  for (std::size_t n = i; n < records.size(); ++n) {
    if (seal_of(records[n].body)->seal.epoch < now) {
      ASSERT_TRUE(names(r, Kind::later_key, records[n].sequence)) << records[n].sequence << "\n" << told(r);
      ++of_old_epochs;
    }
  }
  std::cout << of_old_epochs << " records sealed with a later key, each named\n";
  EXPECT_EQ(r.findings.size(), of_old_epochs);
  EXPECT_GT(of_old_epochs, 100U);
}

TEST(ProofAttack, ClaimingTheLaterEpochIsNamedAsThat) {
  const Log& log = shared();
  const std::uint32_t now = log.whole.head->epoch;
  const proto::Key stolen = tag_key(secret_of(log, now));
  const std::size_t i = log.at(40);
  auto records = log.records;
  other_force(records[i]);
  for (std::size_t n = i; n < records.size(); ++n) {
    std::array<std::uint8_t, 4> epoch{};
    proto::put_u32(now, epoch.data());
    records[n].body.replace(records[n].body.size() - seal_size + 2, 4,
                            reinterpret_cast<const char*>(epoch.data()), 4);
  }
  make_all(log, records, i, log.jack.signer(), [&](const Seal& s) { return tag_of(stolen, s.link); });
  const Report r = verify(question_of(log.jack, records));
  EXPECT_TRUE(names(r, Kind::epoch, records[i].sequence)) << told(r);
}

}  // namespace
}  // namespace strandproof::host::proof
