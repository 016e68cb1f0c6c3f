#include "host-tool/archive/self_check.hpp"

#include <fmt/core.h>

#include "host-tool/archive/reading.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/base/files.hpp"

namespace strandproof::host::archive {
namespace {

constexpr std::size_t most_faults = 20;  // of one kind; the first ones are enough to act on

void note(std::vector<std::string>& faults, const std::string& line) {
  if (faults.size() < most_faults) faults.push_back(line);
}

Row columns_as_row(const Columns& c) {
  Row row;
  for (const auto number : {static_cast<std::int64_t>(c.kind), c.code, c.cause, c.utc_s, c.instruction, c.bed,
                            c.position, c.reel, c.revision, c.stiffness})
    row.push_back(std::to_string(number));
  row.push_back(c.strand);
  return row;
}

void check_engine(Store& store, SelfCheck& result) {
  if (store.engine() != Engine::sqlite)
    return;  // PostgreSQL checks its pages itself, where the server is set so
  for (const auto& said : store.query("pragma integrity_check", 1)) {
    if (said[0] != "ok") note(result.faults, "the file is damaged: " + said[0]);
  }
}

void check_records(const Archive& archive, SelfCheck& result) {
  Store& store = archive.store();
  for (const auto device : archive.devices()) {
    store.each(
        fmt::format("select kind, code, cause, utc_s, instruction, bed, position, reel, revision, stiffness, "
                    "strand, sequence, body_hex from record where device = {}",
                    device),
        13, {}, [&](const Row& r) {
          ++result.records;
          const Columns c = columns_of(store.bytes(r[12]));
          if (c.kind == Kind::unreadable) ++result.unreadable;
          if (columns_as_row(c) != Row(r.begin(), r.begin() + 11))
            note(result.faults,
                 fmt::format("record {} of jack {} does not say what it is found by", r[11], device));
        });
  }
}

void check_entries(const Archive& archive, SelfCheck& result) {
  const auto entries = archive.entries();
  result.entries = entries.size();
  if (!entries.empty()) result.head_hex = entries.back().digest_hex;
  if (const auto fault = chain_fault(entries); !fault.empty()) note(result.faults, fault);
}

void check_documents(Store& store, SelfCheck& result) {
  store.each("select sha256, name, body from document", 3, {}, [&](const Row& r) {
    if (sha256_hex(store.bytes(r[2])) != r[0])
      note(result.faults, "the kept file " + r[1] + " has other bytes than its digest says");
  });
}

}  // namespace

SelfCheck self_check(const Archive& archive) {
  SelfCheck result;
  check_engine(archive.store(), result);
  check_records(archive, result);
  check_entries(archive, result);
  check_documents(archive.store(), result);
  result.content = digest_of(archive);
  return result;
}

}  // namespace strandproof::host::archive
