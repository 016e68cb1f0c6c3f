// The history of gauge tables, and sign-offs of beds.
#include <fmt/core.h>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/store.hpp"

namespace strandproof::host::archive {
namespace {

void insert(soci::session& sql, const HistoryEntry& e) {
  const long long device = e.device, act = static_cast<long long>(e.act), at = e.at_s, revision = e.revision,
                  last = wide(e.last_record), outcome = e.outcome;
  sql << "insert into history (device, act, at_s, by_role, why, revision, sha256, key_fingerprint, "
         "last_record, outcome, details) values (:d, :a, :t, :b, :w, :r, :h, :k, :l, :o, :x)",
      soci::use(device), soci::use(act), soci::use(at), soci::use(e.by), soci::use(e.why),
      soci::use(revision), soci::use(e.sha256_hex), soci::use(e.key_fingerprint), soci::use(last),
      soci::use(outcome), soci::use(e.details);
}

}  // namespace

void Archive::add(const LoadedTable& t, const HistoryEntry& entry) {
  store_->in_transaction([&] {
    auto& sql = store_->session();
    const long long device = t.device, revision = t.revision, loaded = t.loaded_s;
    std::string held;
    sql << "select sha256 from gauge_table where device = :d and revision = :r", soci::into(held),
        soci::use(device), soci::use(revision);
    if (!sql.got_data()) {
      sql << "insert into gauge_table (device, revision, sha256, json, loaded_s) values (:d, :r, :h, :j, :l)",
          soci::use(device), soci::use(revision), soci::use(t.sha256_hex), soci::use(t.json),
          soci::use(loaded);
    } else if (held != t.sha256_hex) {
      throw refused(fmt::format(
          "archive {}: holds another table as revision {} of jack {}; give a higher revision (--revision)",
          store_->path(), t.revision, t.device));
    }
    insert(sql, entry);
    return true;
  });
}

void Archive::add(const HistoryEntry& entry) {
  store_->in_transaction([&] {
    insert(store_->session(), entry);
    return true;
  });
}

std::vector<HistoryEntry> Archive::history(std::uint32_t device) const {
  return store_->guarded([&] {
    const long long d = device;
    long long act = 0, at = 0, revision = 0, last = 0, outcome = 0;
    HistoryEntry e{device, Act::loaded, 0, {}, {}, 0, {}, {}, 0, 0, {}};
    soci::statement query =
        (store_->session().prepare
             << "select act, at_s, by_role, why, revision, sha256, key_fingerprint, last_record, outcome, "
                "details from history where device = :d order by id",
         soci::into(act), soci::into(at), soci::into(e.by), soci::into(e.why), soci::into(revision),
         soci::into(e.sha256_hex), soci::into(e.key_fingerprint), soci::into(last), soci::into(outcome),
         soci::into(e.details), soci::use(d));
    std::vector<HistoryEntry> out;
    query.execute();
    while (query.fetch()) {
      e.act = static_cast<Act>(act);
      e.at_s = at;
      e.revision = narrow(revision);
      e.last_record = static_cast<std::uint64_t>(last);
      e.outcome = narrow(outcome);
      out.push_back(e);
    }
    return out;
  });
}

std::vector<std::uint32_t> Archive::devices() const {
  return store_->guarded([&] {
    long long device = 0;
    soci::statement query =
        (store_->session().prepare << "select device from record union select device from history union "
                                      "select device from instruction order by 1",
         soci::into(device));
    std::vector<std::uint32_t> out;
    query.execute();
    while (query.fetch()) out.push_back(narrow(device));
    return out;
  });
}

void Archive::add(const SignOff& s) {
  store_->in_transaction([&] {
    const long long bed = s.bed, at = s.at_s, pulls = s.pulls, last = wide(s.last_record);
    store_->session() << "insert into sign_off (bed, by_role, at_s, pulls, last_record, digest) values (:b, "
                         ":r, :t, :p, :l, :h)",
        soci::use(bed), soci::use(s.by), soci::use(at), soci::use(pulls), soci::use(last),
        soci::use(s.digest_hex);
    return true;
  });
}

std::vector<SignOff> Archive::sign_offs(std::uint32_t bed) const {
  return store_->guarded([&] {
    const long long b = bed;
    long long at = 0, pulls = 0, last = 0;
    SignOff s{bed, {}, 0, 0, 0, {}};
    soci::statement query = (store_->session().prepare << "select by_role, at_s, pulls, last_record, digest "
                                                          "from sign_off where bed = :b order by id",
                             soci::into(s.by), soci::into(at), soci::into(pulls), soci::into(last),
                             soci::into(s.digest_hex), soci::use(b));
    std::vector<SignOff> out;
    query.execute();
    while (query.fetch()) {
      s.at_s = at;
      s.pulls = narrow(pulls);
      s.last_record = static_cast<std::uint64_t>(last);
      out.push_back(s);
    }
    return out;
  });
}

}  // namespace strandproof::host::archive
