// Follows the chain of a jack's log and names, record by record, what does not belong to it. Knows nothing of
// archives, files and links. What a finding proves, and what no finding proves, is in
// firmware/record/README.md.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "host-tool/proof/chain.hpp"

namespace strandproof::host::proof {

enum class Kind : std::uint8_t {
  changed,     // content, number, time or seal of the record are not those that were sealed
  missing,     // records before this one were taken out
  doubled,     // the number is there twice
  order,       // stands behind a record of a higher number
  inserted,    // the record does not know of the one before it, or begins a chain of its own
  epoch,       // another epoch than the one that is due
  later_key,   // sealed with the key of a later epoch
  tag,         // fits the chain, but was not sealed by the jack's key of its epoch
  checkpoint,  // signature wrong, or it stands for another past
  other_jack,  // a checkpoint of another jack, or signed with another key
  truncated,   // the log ends before the head that is held
  other_past,  // the record at the head is another one: the log does not extend it
};
[[nodiscard]] const char* name_of(Kind kind);

struct Finding {
  Kind kind = Kind::changed;
  std::uint64_t sequence = 0;  // the record that is named
  std::string what;            // one line for a person
};

// What is held outside of the archive about a jack's log, after all up to `sequence` was found good.
struct Head {
  std::uint32_t device = 0;
  std::uint64_t first = 0;  // where the log began when this host first looked at it
  std::uint64_t sequence = 0;
  std::uint32_t epoch = 0;
  bool ends_epoch = false;  // the record is a checkpoint
  Link link{};
  Tag tag{};
  std::optional<proto::Key> public_key;     // of the jack; nothing before its first checkpoint
  std::uint64_t signed_up_to = 0;           // newest record that a checkpoint stands for
  std::optional<std::uint32_t> our_epochs;  // this host's pairing has given the keys from this epoch on
};

// This host, if its pairing key may be used: without it tags are not looked at.
struct HostKey {
  std::uint64_t host_id = 0;
  proto::Key chain_key{};
};

struct Question {
  std::uint32_t device = 0;
  std::vector<Record> records;  // in the order in which they were found
  bool whole = false;           // they are all that there is: they must begin where `held` says
  std::optional<Head> held;
  std::optional<proto::Key>
      public_key;  // that a person has accepted; else that of `held`, else the first seen
  std::optional<HostKey> host;
  std::map<std::uint32_t, proto::Key> tag_keys{};  // m[e] that a host has given away
};

struct Report {
  std::vector<Finding> findings;  // in the order of the records; empty: the chain holds
  std::uint64_t records = 0;
  std::uint64_t tags_checked = 0;
  std::uint64_t tags_unknown = 0;  // records of epochs whose key this host does not know
  std::uint64_t checkpoints = 0;   // with a good signature
  // The first record, where the one before it is not there: it holds the others, and nothing proves itself.
  std::optional<std::uint64_t> begins_at;
  std::optional<Head> head;  // to be held from now on; only where nothing was found
  // m[e] of each epoch that a good checkpoint here has ended, where its key is known: no record can be added
  // to it any more, so that the key may be given to others.
  std::map<std::uint32_t, proto::Key> closed_keys{};
};

[[nodiscard]] Report verify(const Question& question);

}  // namespace strandproof::host::proof
