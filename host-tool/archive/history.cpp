// Gauge tables with their history, the files they were made of, and what the jacks said of themselves.
#include <fmt/core.h>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/archive/writing.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {
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
          store_->name(), t.revision, t.device));
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

// From one serial to the next along an index: the time goes with the jacks, not with their records.
std::vector<std::uint32_t> Archive::devices() const {
  std::vector<std::uint32_t> out;
  const auto next = [](const std::string& table) {
    return fmt::format(
        "select * from (with recursive d(x) as (select min(device) from {0} union all select "
        "(select min(device) from {0} where device > d.x) from d where d.x is not null) "
        "select x from d where x is not null) {0}_devices",
        table);
  };
  for (const auto& r : store_->query(
           next("record") + " union " + next("history") + " union " + next("instruction") + " order by 1", 1))
    out.push_back(store_->narrow(r[0]));
  return out;
}

std::string Archive::keep(const std::string& name, const std::string& text, std::int64_t at_s) {
  const std::string digest = sha256_hex(text);
  store_->in_transaction([&] {
    store_->run(
        "insert into document (sha256, name, kept_s, body) values (:d, :n, :t, :b) on conflict (sha256) do "
        "nothing",
        {digest, name, at_s, to_hex(text)});
  });
  return digest;
}

std::optional<Document> Archive::document(const std::string& sha256_hex) const {
  const auto found =
      store_->query("select name, kept_s, body from document where sha256 = :d", 3, {sha256_hex});
  if (found.empty()) return std::nullopt;
  return Document{sha256_hex, found[0][0], store_->number(found[0][1]), store_->bytes(found[0][2])};
}

void Archive::add(const JackSeen& s) {
  store_->in_transaction([&] {
    const auto last = seen(s.device);
    if (!last.empty()) {
      JackSeen same = s;
      same.at_s = last.back().at_s;
      if (same == last.back()) return;
    }
    store_->run(
        "insert into jack_seen (id, device, at_s, build, origin, protocol, settings_revision, "
        "table_revision, clock_quality) values ((select coalesce(max(id), 0) + 1 from jack_seen), :d, :t, "
        ":b, "
        ":o, :p, :s, :r, :q)",
        {s.device, s.at_s, s.build, s.origin, s.protocol, s.settings_revision, s.table_revision,
         s.clock_quality});
  });
}

std::vector<JackSeen> Archive::seen(std::uint32_t device) const {
  std::vector<JackSeen> out;
  for (const auto& r : store_->query(
           "select at_s, build, origin, protocol, settings_revision, table_revision, clock_quality from "
           "jack_seen where device = :d order by id",
           7, {device})) {
    out.push_back({device, store_->number(r[0]), r[1], store_->narrow(r[2]), r[3], store_->narrow(r[4]),
                   store_->narrow(r[5]), store_->narrow(r[6])});
  }
  return out;
}

}  // namespace strandproof::host::archive
