// The log that the attacks are made on, and the tools of whoever makes them.
#pragma once

#include <functional>

#include "proto/little_endian.hpp"
#include "tests/host/chain_maker.hpp"

namespace strandproof::host::proof {

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

inline const Log& shared() {
  static const Log log;
  return log;
}

inline bool names(const Report& r, Kind kind, std::uint64_t sequence) {
  return std::ranges::any_of(r.findings,
                             [&](const Finding& f) { return f.kind == kind && f.sequence == sequence; });
}

inline std::string told(const Report& r) {
  std::string out;
  for (const Finding& f : r.findings) {
    out += std::to_string(f.sequence) + " " + name_of(f.kind) + ": " + f.what + "\n";
  }
  return out;
}

// ---- with tools: links can be made by anyone

// Works all links out anew from records[from] on. tag: of a record, from its epoch and link.
inline void make_links(const Log& log, std::vector<Record>& records, std::size_t from,
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
inline void make_all(const Log& log, std::vector<Record>& records, std::size_t from,
                     const proto::TableKey& signer, const std::function<Tag(const Seal&)>& tag) {
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

inline Tag old_tag(const Log& log, const Seal& s) {
  for (const Record& r : log.records) {
    const Seal old = seal_of(r.body)->seal;
    if (old.epoch == s.epoch) {
      return old.tag;
    }
  }
  return {};
}

// The secret that an epoch had, as the host works it out.
inline proto::Key secret_of(const Log& log, std::uint32_t epoch) {
  proto::Key s = paired_secret(proto::chain_key(counting_key(7)), log.jack.device(), 1);
  for (std::uint32_t e = 1; e < epoch; ++e) {
    s = next_secret(s);
  }
  return s;
}

inline void other_force(Record& r) {
  wire::Record w;
  ASSERT_TRUE(w.ParseFromString(r.body));
  ASSERT_TRUE(w.has_event());
  w.clear_seal();
  w.mutable_event()->set_force_n(w.event().force_n() - 20'000);
  r.body = w.SerializeAsString() + r.body.substr(r.body.size() - seal_size);
}

inline bool is_event(const Record& r) {
  return !is_checkpoint(r.body);
}

}  // namespace strandproof::host::proof
