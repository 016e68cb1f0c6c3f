// What a bundle holds, and its data block: JSON that this program writes in one way only, so that the same
// data are the same bytes. README.md of this folder has the form.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "host-tool/proof/verify.hpp"

namespace strandproof::host::bundle {

inline constexpr std::uint32_t format_version = 1;
// Of the readable part: counted up with every change of what the same data give, so that an older bundle is
// told from one that was changed.
inline constexpr std::uint32_t page_version = 1;

// What was asked for: a bed, or a jack, whole or from record to record.
struct Scope {
  std::uint32_t bed = 0;              // 0: not by bed
  std::uint32_t jack = 0;             // 0: every jack of the bed
  std::uint64_t first = 0, last = 0;  // records; 0: from the first, to the newest
  bool operator==(const Scope&) const = default;
};

struct Jack {
  std::uint32_t serial = 0;
  // Link, tag and epoch of the record before the first one here, which follows from them.
  std::optional<proof::Head> before{};
  std::optional<proof::Head> head{};               // as this host held it
  std::map<std::uint32_t, proto::Key> tag_keys{};  // m[e] of closed epochs, if the host gives them
};

struct Data {
  std::uint32_t page = page_version;
  std::uint64_t host = 0;  // whose archive this is out of; 0: it has no keys
  Scope scope{};
  std::vector<Jack> jacks{};                             // by serial
  std::vector<archive::StoredRecord> records{};          // by jack and sequence
  std::vector<archive::SentInstruction> instructions{};  // by jack and id
  std::vector<archive::LoadedTable> tables{};            // by jack and revision
  std::vector<archive::HistoryEntry> history{};          // by jack, in the order in which they were entered
  std::vector<archive::Entry> entries{};                 // all of the archive's, those of others withheld
  std::vector<archive::Document> documents{};            // by digest
  std::vector<archive::JackSeen> seen{};                 // by jack, in their order
};

std::string to_text(const Data& data);

// Reads what to_text wrote and nothing else. name: of the file, for messages. Throws Problem (fault): not
// JSON, a newer form, a field missing or of another kind, out of order, doubled, or another form of the same.
Data from_text(const std::string& text, const std::string& name);

}  // namespace strandproof::host::bundle
