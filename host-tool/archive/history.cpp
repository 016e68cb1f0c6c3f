// The history of gauge tables, and sign-offs of beds.
#include <fmt/core.h>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

void insert(Store& store, const HistoryEntry& e) {
  store.run(
      "insert into history (device, act, at_s, by_role, why, revision, sha256, key_fingerprint, last_record, "
      "outcome, details) values (:d, :a, :t, :b, :w, :r, :h, :k, :l, :o, :x)",
      {e.device, static_cast<long long>(e.act), e.at_s, e.by, e.why, e.revision, e.sha256_hex,
       e.key_fingerprint, stored(e.last_record), e.outcome, e.details});
}

}  // namespace

void Archive::add(const LoadedTable& t, const HistoryEntry& entry) {
  store_->in_transaction([&] {
    const auto held = store_->query("select sha256 from gauge_table where device = :d and revision = :r", 1,
                                    {t.device, t.revision});
    if (held.empty()) {
      store_->run(
          "insert into gauge_table (device, revision, sha256, json, loaded_s) values (:d, :r, :h, :j, :l)",
          {t.device, t.revision, t.sha256_hex, t.json, t.loaded_s});
    } else if (held[0][0] != t.sha256_hex) {
      throw refused(fmt::format(
          "archive {}: holds another table as revision {} of jack {}; give a higher revision (--revision)",
          store_->path(), t.revision, t.device));
    }
    insert(*store_, entry);
  });
}

void Archive::add(const HistoryEntry& entry) {
  store_->in_transaction([&] { insert(*store_, entry); });
}

std::vector<HistoryEntry> Archive::history(std::uint32_t device) const {
  std::vector<HistoryEntry> out;
  for (const auto& r : store_->query(
           "select act, at_s, by_role, why, revision, sha256, key_fingerprint, last_record, outcome, "
           "details from history where device = :d order by id",
           10, {device})) {
    out.push_back({device, static_cast<Act>(store_->number(r[0])), store_->number(r[1]), r[2], r[3],
                   store_->narrow(r[4]), r[5], r[6], store_->wide(r[7]), store_->narrow(r[8]), r[9]});
  }
  return out;
}

std::vector<std::uint32_t> Archive::devices() const {
  std::vector<std::uint32_t> out;
  for (const auto& r :
       store_->query("select device from record union select device from history union select "
                     "device from instruction order by 1",
                     1)) {
    out.push_back(store_->narrow(r[0]));
  }
  return out;
}

void Archive::add(const SignOff& s) {
  store_->in_transaction([&] {
    store_->run(
        "insert into sign_off (bed, by_role, at_s, pulls, last_record, digest) values (:b, :r, :t, :p, :l, "
        ":h)",
        {s.bed, s.by, s.at_s, s.pulls, stored(s.last_record), s.digest_hex});
  });
}

std::vector<SignOff> Archive::sign_offs(std::uint32_t bed) const {
  std::vector<SignOff> out;
  for (const auto& r : store_->query(
           "select by_role, at_s, pulls, last_record, digest from sign_off where bed = :b order by id", 5,
           {bed})) {
    out.push_back({bed, r[0], store_->number(r[1]), store_->narrow(r[2]), store_->wide(r[3]), r[4]});
  }
  return out;
}

}  // namespace strandproof::host::archive
