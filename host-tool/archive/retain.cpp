#include "host-tool/archive/retain.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "host-tool/archive/entries.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {
namespace {

constexpr std::int64_t day_s = 86400;

SignOff last_sign_off(const Archive& archive, std::uint32_t bed) {
  const auto all = archive.sign_offs(bed);
  if (all.empty())
    throw refused(
        fmt::format("bed {} is not signed off: nothing of it may be deleted; sign it off first", bed));
  return all.back();
}

void demand_age(const Archive& archive, const SignOff& s, std::int64_t now_s) {
  const auto days = minimum_age_days(archive);
  const std::int64_t from_s = s.at_s + static_cast<std::int64_t>(days) * day_s;
  if (now_s < from_s) {
    throw refused(fmt::format(
        "bed {} was signed off at {} and is kept for {} days at least: not before {}; nothing has "
        "been changed",
        s.bed, format_time(s.at_s), days, format_time(from_s)));
  }
}

void demand_signed(const SignOff& s, const std::vector<StoredRecord>& pulls) {
  if (pulls.empty()) throw refused(fmt::format("bed {} has no records any more; nothing to delete", s.bed));
  for (const auto& p : pulls) {
    if (p.sequence > s.last_record) {
      throw refused(
          fmt::format("bed {}: record {} of jack {} came after its last sign-off; sign it off again", s.bed,
                      p.sequence, p.device));
    }
  }
}

Entry entry_of_deletion(std::uint32_t bed, const std::string& by, const std::string& why, std::int64_t now_s,
                        const std::vector<StoredRecord>& pulls) {
  std::string bodies;
  for (const auto& p : pulls) bodies += p.body;
  Entry e;
  e.kind = EntryKind::deletion;
  e.at_s = now_s;
  e.by = by;
  e.bed = bed;
  e.outcome = pulls.size();
  e.records_digest_hex = sha256_hex(bodies);
  e.words = why;
  return e;
}

}  // namespace

std::uint64_t minimum_age_days(const Archive& archive) {
  std::uint64_t days = first_minimum_age_days;
  for (const auto& e : archive.entries(0)) {
    if (e.kind == EntryKind::minimum_age) days = std::max(days, e.outcome);
  }
  return days;
}

Entry raise_minimum_age(Archive& archive, std::uint64_t days, const std::string& by, std::int64_t now_s) {
  const auto held = minimum_age_days(archive);
  if (days <= held)
    throw refused(
        fmt::format("the minimum age is {} days and can only be raised; give more than that", held));
  Entry e;
  e.kind = EntryKind::minimum_age;
  e.at_s = now_s;
  e.by = by;
  e.outcome = days;
  return archive.add(e);
}

Entry remove_bed(Archive& archive, std::uint32_t bed, const std::string& by, const std::string& why,
                 std::int64_t now_s) {
  Store& store = archive.store();
  Entry entered;
  store.in_transaction([&] {
    const SignOff s = last_sign_off(archive, bed);
    const auto pulls = archive.find({.bed = bed});
    demand_signed(s, pulls);
    demand_age(archive, s, now_s);
    entered = append(store, entry_of_deletion(bed, by, why, now_s, pulls));
    for (const auto& p : pulls) {
      store.run("insert into removed (device, sequence, boot, sha256, entry) values (:d, :s, :b, :h, :e)",
                {p.device, stored(p.sequence), p.boot, sha256_hex(p.body), stored(entered.number)});
      store.run("delete from record where device = :d and sequence = :s", {p.device, stored(p.sequence)});
    }
  });
  return entered;
}

}  // namespace strandproof::host::archive
