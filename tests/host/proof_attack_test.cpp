// Attacks on a log, each as somebody would make it, with what they know: nothing, or the chip, or the chip
// and the host's key. What is found must be named; what can not be found is here as well, so that nobody
// promises it.
#include <gtest/gtest.h>

#include <functional>
#include <iostream>
#include <map>

#include "proto/little_endian.hpp"
#include "tests/host/chain_maker.hpp"

namespace strandproof::host::proof {
namespace {

struct Log {
  Log() : records{two_hundred(jack)} {
    whole = verify(question_of(jack, records));
    EXPECT_TRUE(whole.findings.empty());
  }
  [[nodiscard]] std::size_t at(std::uint64_t sequence) const {
    return static_cast<std::size_t>(std::ranges::find(records, sequence, &Record::sequence) -
                                    records.begin());
  }
  ChainMaker jack{4711};
  std::vector<Record> records;
  Report whole;
};

const Log& shared() {
  static const Log log;
  return log;
}

bool names(const Report& r, Kind kind, std::uint64_t sequence) {
  return std::ranges::any_of(r.findings,
                             [&](const Finding& f) { return f.kind == kind && f.sequence == sequence; });
}

std::string told(const Report& r) {
  std::string out;
  for (const Finding& f : r.findings) {
    out += std::to_string(f.sequence) + " " + name_of(f.kind) + ": " + f.what + "\n";
  }
  return out;
}

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

// Works all links out anew from records[from] on. tag: of a record, from its epoch and link.
void make_links(const Log& log, std::vector<Record>& records, std::size_t from,
                const std::function<Tag(const Seal&)>& tag) {
  Before before;
  if (from > 0) {
    const Seal s = seal_of(records[from - 1].body)->seal;
    before = {s.link, s.tag};
  }
  for (std::size_t i = from; i < records.size(); ++i) {
    Record& r = records[i];
    Seal s = seal_of(r.body)->seal;
    s.gap = i == 0 ? 0U : static_cast<std::uint32_t>(r.sequence - records[i - 1].sequence);
    s.link = link_of(log.jack.device(), r, s.epoch, s.gap, before);
    s.tag = tag(s);
    std::array<std::uint8_t, record::seal_size> bytes{};
    record::put_seal({.epoch = s.epoch, .gap = s.gap, .link = s.link, .tag = s.tag}, bytes);
    r.body.replace(r.body.size() - seal_size, seal_size, reinterpret_cast<const char*>(bytes.data()),
                   seal_size);
    before = {s.link, s.tag};
  }
}

// As make_links, and every checkpoint on the way is made and signed anew.
void make_all(const Log& log, std::vector<Record>& records, std::size_t from, const proto::TableKey& signer,
              const std::function<Tag(const Seal&)>& tag) {
  for (std::size_t i = from; i < records.size(); ++i) {
    std::vector<Record> so_far{records.begin(), records.begin() + static_cast<std::ptrdiff_t>(i) + 1};
    if (auto c = checkpoint_of(records[i].body); c) {
      const auto covered = std::ranges::find(so_far, c->covers, &Record::sequence);
      c->link = seal_of(covered->body)->seal.link;
      const std::string end = records[i].body.substr(records[i].body.size() - seal_size);
      records[i].body = ChainMaker::signed_content(*c, signer) + end;
    }
    so_far.back() = records[i];
    make_links(log, so_far, i, tag);
    records[i] = so_far.back();
  }
}

Tag old_tag(const Log& log, const std::vector<Record>& records, const Seal& s) {
  (void)records;
  for (const Record& r : log.records) {
    const Seal old = seal_of(r.body)->seal;
    if (old.epoch == s.epoch) {
      return old.tag;
    }
  }
  return {};
}

// The secret that an epoch had, as the host works it out.
proto::Key secret_of(const Log& log, std::uint32_t epoch) {
  proto::Key s = paired_secret(proto::chain_key(counting_key(7)), log.jack.device(), 1);
  for (std::uint32_t e = 1; e < epoch; ++e) {
    s = next_secret(s);
  }
  return s;
}

void other_force(Record& r) {
  wire::Record w;
  ASSERT_TRUE(w.ParseFromString(r.body));
  ASSERT_TRUE(w.has_event());
  w.clear_seal();
  w.mutable_event()->set_force_n(w.event().force_n() - 20'000);
  r.body = w.SerializeAsString() + r.body.substr(r.body.size() - seal_size);
}

bool is_event(const Record& r) {
  return !is_checkpoint(r.body);
}

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
    make_links(log, records, i, [&](const Seal& s) { return old_tag(log, records, s); });
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
