// H29: the verifier shown honest logs, every single flipped bit, and every attack of the design; and what it
// can not find, as firmware/record/README.md says. SHA-256, HMAC and Ed25519 on this side are libsodium's, on
// the jack's side BearSSL's and the reference code: the log is followed by other code than made it.
#include <gtest/gtest.h>

#include <iostream>

#include "tests/host/chain_maker.hpp"

namespace strandproof::host::proof {
namespace {

std::string told(const Report& r) {
  std::string out;
  for (const Finding& f : r.findings) {
    out += std::to_string(f.sequence) + " " + name_of(f.kind) + ": " + f.what + "\n";
  }
  return out;
}

struct Log {
  Log() : records{two_hundred(jack)} {}
  ChainMaker jack{4711};
  std::vector<Record> records;
};

const Log& shared() {
  static const Log log;
  return log;
}

TEST(Proof, AnHonestLogOfTwoHundredRecordsHolds) {
  const Log& log = shared();
  ASSERT_EQ(log.records.size(), 200U);
  const Report r = verify(question_of(log.jack, log.records));
  EXPECT_EQ(told(r), "");
  EXPECT_EQ(r.records, 200U);
  EXPECT_EQ(r.tags_unknown, 6U) << "the records before the first pairing, its event and its checkpoint";
  EXPECT_EQ(r.tags_checked, 194U);
  EXPECT_EQ(r.checkpoints, 11U);
  ASSERT_TRUE(r.head.has_value());
  EXPECT_EQ(r.head->sequence, log.records.back().sequence);
  EXPECT_EQ(r.head->public_key, log.jack.signer().public_key());
}

TEST(Proof, ALogIsFollowedInPiecesFromTheHeldHead) {
  const Log& log = shared();
  std::optional<Head> held;
  for (std::size_t at = 0; at < log.records.size(); at += 7) {
    const auto end = std::min(at + 7, log.records.size());
    Question q = question_of(log.jack, {log.records.begin() + static_cast<std::ptrdiff_t>(at),
                                        log.records.begin() + static_cast<std::ptrdiff_t>(end)});
    q.public_key.reset();  // the first checkpoint's is kept with the head from there on
    q.held = held;
    const Report r = verify(q);
    ASSERT_EQ(told(r), "") << at;
    held = r.head;
  }
  const Report whole = verify(question_of(log.jack, log.records));
  EXPECT_EQ(held->link, whole.head->link);
  EXPECT_EQ(held->signed_up_to, whole.head->signed_up_to);
  EXPECT_EQ(held->our_epochs, whole.head->our_epochs);
  EXPECT_EQ(held->first, 1U);
}

// ---- flipped bits

struct Flips {
  std::uint64_t tried = 0, found = 0, named = 0, alone = 0;
};

// Looks at the i-th record and two more, from the head that was held before them: the same walk, less of it.
Report around(const Log& log, const std::vector<Head>& heads, std::size_t i, const Record& changed,
              bool key) {
  const std::size_t from = i;
  const std::size_t to = std::min(i + 3, log.records.size());
  Question q = question_of(log.jack,
                           {log.records.begin() + static_cast<std::ptrdiff_t>(from),
                            log.records.begin() + static_cast<std::ptrdiff_t>(to)},
                           key);
  q.records[i - from] = changed;
  if (from > 0) {
    q.held = heads[from - 1];
  }
  return verify(q);
}

std::vector<Head> heads_of(const Log& log, bool key) {
  std::vector<Head> heads;
  std::optional<Head> held;
  for (const Record& record : log.records) {
    Question q = question_of(log.jack, {record}, key);
    q.held = held;
    const Report r = verify(q);
    EXPECT_EQ(told(r), "") << record.sequence;
    held = r.head;
    heads.push_back(*held);
  }
  return heads;
}

void count(const Report& r, std::uint64_t sequence, std::uint64_t also, Flips& flips) {
  ++flips.tried;
  flips.found += r.findings.empty() ? 0 : 1;
  const bool named = std::ranges::any_of(
      r.findings, [&](const Finding& f) { return f.sequence == sequence || f.sequence == also; });
  flips.named += named ? 1 : 0;
  flips.alone += r.findings.size() == 1 && r.findings[0].sequence == sequence ? 1 : 0;
}

template <class Try>
void each_bit(const Record& original, const Try& attempt) {
  for (std::size_t bit = 0; bit < original.body.size() * 8; ++bit) {
    Record r = original;
    r.body[bit / 8] = static_cast<char>(static_cast<unsigned char>(r.body[bit / 8]) ^ (1U << (bit % 8)));
    attempt(r);
  }
  for (unsigned bit = 0; bit < 64; ++bit) {
    Record r = original;
    r.tick_ms ^= std::uint64_t{1} << bit;
    attempt(r);
  }
  for (unsigned bit = 0; bit < 32; ++bit) {
    Record r = original;
    r.boot ^= 1U << bit;
    attempt(r);
  }
}

TEST(ProofFlips, EveryBitOfTwoHundredRecordsIsFoundAndItsRecordNamedAlone) {
  const Log& log = shared();
  const auto heads = heads_of(log, true);
  Flips flips;
  for (std::size_t i = 0; i < log.records.size(); ++i) {
    const std::uint64_t sequence = log.records[i].sequence;
    const bool known_key = i >= 6;
    each_bit(log.records[i], [&](const Record& r) {
      const Report report = around(log, heads, i, r, true);
      count(report, sequence, known_key ? sequence : sequence + 1, flips);
      ASSERT_FALSE(report.findings.empty()) << sequence;
    });
  }
  std::cout << flips.tried << " flipped bits of " << log.records.size() << " records: " << flips.found
            << " found, " << flips.named << " named, " << flips.alone
            << " with no other record named beside it\n";
  EXPECT_EQ(flips.found, flips.tried);
  EXPECT_EQ(flips.named, flips.tried);
  EXPECT_GT(flips.alone, flips.tried * 97 / 100);
}

TEST(ProofFlips, EveryBitOfASequenceNumberIsFound) {
  const Log& log = shared();
  Flips flips;
  for (std::size_t i = 0; i < log.records.size(); ++i) {
    for (unsigned bit = 0; bit < 64; ++bit) {
      std::vector<Record> records = log.records;
      records[i].sequence ^= std::uint64_t{1} << bit;
      Question q = question_of(log.jack, std::move(records), false);
      const Report r = verify(q);
      count(r, log.records[i].sequence + 1, q.records[i].sequence, flips);
      ASSERT_FALSE(r.findings.empty()) << log.records[i].sequence << ", bit " << bit;
    }
  }
  std::cout << flips.tried << " flipped bits of sequence numbers: " << flips.found << " found, "
            << flips.named << " named\n";
  EXPECT_EQ(flips.found, flips.tried);
  EXPECT_EQ(flips.named, flips.tried);
}

// Without the host's key only the link is left: a tag is held by the link of the next record, so the very
// last record's tag is held by nothing yet.
TEST(ProofFlips, WithThePublicKeyAloneAllButTheLastTagAreFound) {
  const Log& log = shared();
  const auto heads = heads_of(log, false);
  Flips flips;
  std::uint64_t missed_elsewhere = 0;
  std::uint64_t missed_in_last_tag = 0;
  for (std::size_t i = 0; i < log.records.size(); ++i) {
    const Record& original = log.records[i];
    each_bit(original, [&](const Record& r) {
      const Report report = around(log, heads, i, r, false);
      count(report, original.sequence, original.sequence + 1, flips);
      const bool in_last_tag =
          i + 1 == log.records.size() && r.boot == original.boot && r.tick_ms == original.tick_ms &&
          r.body.substr(0, r.body.size() - 16) == original.body.substr(0, original.body.size() - 16);
      (in_last_tag ? missed_in_last_tag : missed_elsewhere) += report.findings.empty() ? 1 : 0;
    });
  }
  std::cout << flips.tried << " flipped bits without the host's key: " << flips.found << " found, "
            << flips.named << " named at the record or the next\n";
  EXPECT_EQ(missed_elsewhere, 0U);
  EXPECT_EQ(missed_in_last_tag, 128U);
  EXPECT_EQ(flips.named, flips.found);
}

}  // namespace
}  // namespace strandproof::host::proof
