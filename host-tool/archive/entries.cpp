#include "host-tool/archive/entries.hpp"

#include <fmt/core.h>

#include "host-tool/archive/store.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

constexpr const char* columns =
    "number, kind, at_s, by_role, device, bed, sequence, outcome, records_digest, words, content, previous, "
    "digest";
constexpr std::size_t column_count = 13;

Entry from_row(const Store& store, const Row& r) {
  Entry e;
  e.number = store.wide(r[0]);
  e.kind = static_cast<EntryKind>(store.number(r[1]));
  e.at_s = store.number(r[2]);
  e.by = r[3];
  e.device = store.narrow(r[4]);
  e.bed = store.narrow(r[5]);
  e.sequence = store.wide(r[6]);
  e.outcome = store.wide(r[7]);
  e.records_digest_hex = r[8];
  e.words = r[9];
  e.content_hex = r[10];
  e.previous_hex = r[11];
  e.digest_hex = r[12];
  return e;
}

std::string field(const char* name, const std::string& value) {
  return fmt::format("{}:{}:{}\n", name, value.size(), value);
}

}  // namespace

std::string chain_begin() {
  return std::string(64, '0');
}

std::string content_digest(const Entry& e) {
  return sha256_hex(
      field("number", std::to_string(e.number)) +
      field("kind", std::to_string(static_cast<unsigned>(e.kind))) + field("at_s", std::to_string(e.at_s)) +
      field("by", e.by) + field("device", std::to_string(e.device)) + field("bed", std::to_string(e.bed)) +
      field("sequence", std::to_string(e.sequence)) + field("outcome", std::to_string(e.outcome)) +
      field("records_digest", e.records_digest_hex) + field("words", e.words));
}

std::string chained(const std::string& previous, const std::string& content) {
  return sha256_hex(previous + "\n" + content);
}

Entry append(Store& store, Entry e) {
  const auto last = store.query("select number, digest from entry order by number desc limit 1", 2);
  e.number = last.empty() ? 1 : store.wide(last[0][0]) + 1;
  e.previous_hex = last.empty() ? chain_begin() : last[0][1];
  e.content_hex = content_digest(e);
  e.digest_hex = chained(e.previous_hex, e.content_hex);
  store.run(
      fmt::format("insert into entry ({}) values (:a, :b, :c, :d, :e, :f, :g, :h, :i, :j, :k, :l, :m)",
                  columns),
      {stored(e.number), static_cast<long long>(e.kind), e.at_s, e.by, e.device, e.bed, stored(e.sequence),
       stored(e.outcome), e.records_digest_hex, e.words, e.content_hex, e.previous_hex, e.digest_hex});
  return e;
}

Entry entry_of(const SignOff& s) {
  Entry e;
  e.kind = EntryKind::sign_off;
  e.at_s = s.at_s;
  e.by = s.by;
  e.bed = s.bed;
  e.sequence = s.last_record;
  e.outcome = s.pulls;
  e.records_digest_hex = s.digest_hex;
  return e;
}

SignOff sign_off_of(const Entry& e) {
  return {e.bed, e.by, e.at_s, static_cast<std::uint32_t>(e.outcome), e.sequence, e.records_digest_hex};
}

Entry Archive::add(const Entry& entry) {
  Entry entered;
  store_->in_transaction([&] { entered = append(*store_, entry); });
  return entered;
}

void Archive::add(const SignOff& s) {
  (void)add(entry_of(s));
}

std::vector<Entry> Archive::entries(std::optional<std::uint32_t> bed) const {
  std::vector<Entry> found;
  store_->each(fmt::format("select {} from entry {} order by number", columns,
                           bed ? fmt::format("where bed = {}", *bed) : ""),
               column_count, {}, [&](const Row& r) { found.push_back(from_row(*store_, r)); });
  return found;
}

std::vector<SignOff> Archive::sign_offs(std::uint32_t bed) const {
  std::vector<SignOff> found;
  for (const auto& e : entries(bed)) {
    if (e.kind == EntryKind::sign_off) found.push_back(sign_off_of(e));
  }
  return found;
}

std::string chain_fault(const std::vector<Entry>& entries) {
  std::string previous = chain_begin();
  std::uint64_t number = 1;
  for (const auto& e : entries) {
    if (e.number != number) return fmt::format("entry {} is missing", number);
    if (e.previous_hex != previous) return fmt::format("entry {} does not follow the one before", e.number);
    if (!e.withheld && e.content_hex != content_digest(e))
      return fmt::format("entry {} was changed", e.number);
    if (e.digest_hex != chained(previous, e.content_hex))
      return fmt::format("entry {} has another digest than its content", e.number);
    previous = e.digest_hex;
    ++number;
  }
  return {};
}

}  // namespace strandproof::host::archive
