// Records by what they say.
#include <fmt/format.h>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

// The terms of a query; numbers stand in it as they are, so that the engines see which partial index fits.
class Terms {
 public:
  template <class Number>
  void add(const char* term, const std::optional<Number>& value) {
    if (value) all_.push_back(fmt::format("{} {}", term, *value));
  }
  void add(const std::string& term) { all_.push_back(term); }
  [[nodiscard]] std::string text() const {
    std::string joined;
    for (const auto& term : all_) joined += (joined.empty() ? " where " : " and ") + term;
    return joined;
  }

 private:
  std::vector<std::string> all_;
};

bool of_pulls(const Filter& f) {
  return f.bed || f.position || f.reel || f.table || f.verdict || f.strand;
}

void check(const Filter& f) {
  if (of_pulls(f) && f.event)
    throw bad_input(
        "an event has no bed, position, reel, table, verdict or strand of its own: ask for the event alone, "
        "or "
        "for pulls alone");
  if (f.from_s && f.until_s && *f.from_s >= *f.until_s)
    throw bad_input("the time asked for ends before it begins; exchange both ends");
}

Terms terms_of(const Filter& f, const std::vector<std::uint32_t>& devices) {
  Terms t;
  if (of_pulls(f)) t.add("kind = 2");
  if (f.event) t.add("kind = 1");
  t.add("code =", f.event ? f.event : f.verdict);
  t.add("device =", f.device);
  t.add("bed =", f.bed);
  t.add("position =", f.position);
  t.add("reel =", f.reel);
  t.add("revision =", f.table);
  if (f.cause && *f.cause != 0) t.add("cause <> 0");
  t.add("cause =", f.cause);
  if (f.strand) t.add("strand = :strand");
  if (f.from_s || f.until_s) t.add("utc_s > 0");
  t.add("utc_s >=", f.from_s);
  t.add("utc_s <", f.until_s);
  t.add("sequence >=", f.first);
  t.add("sequence <=", f.last);
  // A span of time alone is found jack by jack.
  if (!devices.empty()) t.add("device in (" + fmt::format("{}", fmt::join(devices, ", ")) + ")");
  return t;
}

}  // namespace

void Archive::each(const Filter& f, const std::function<void(const StoredRecord&)>& take) const {
  check(f);
  const bool by_time_alone = (f.from_s || f.until_s) && !f.device && !of_pulls(f) && !f.event && !f.cause;
  std::string statement = "select device, boot, sequence, tick_ms, body_hex from record" +
                          terms_of(f, by_time_alone ? devices() : std::vector<std::uint32_t>{}).text();
  statement += f.newest_first ? " order by device desc, sequence desc" : " order by device, sequence";
  if (f.limit != 0) statement += fmt::format(" limit {}", f.limit);
  std::vector<Value> values;
  if (f.strand) values.emplace_back(*f.strand);
  store_->each(statement, 5, values, [&](const Row& r) {
    take({store_->narrow(r[0]), store_->narrow(r[1]), store_->wide(r[2]), store_->wide(r[3]),
          store_->bytes(r[4])});
  });
}

std::vector<StoredRecord> Archive::find(const Filter& filter) const {
  std::vector<StoredRecord> out;
  each(filter, [&](const StoredRecord& r) { out.push_back(r); });
  return out;
}

std::vector<Span> Archive::spans(std::uint32_t bed) const {
  std::vector<Span> out;
  for (const auto& r : store_->query("select device, min(sequence), max(sequence) from record where kind = 2 "
                                     "and bed = :b group by device "
                                     "order by device",
                                     3, {bed})) {
    const long long device = store_->number(r[0]);
    const auto before = store_->query(
        "select sequence from record where device = :d and sequence < :s and kind = 2 order by sequence desc "
        "limit 1",
        1, {device, store_->number(r[1])});
    const auto after = store_->query(
        "select sequence from record where device = :d and sequence > :s and kind = 2 order by sequence "
        "limit 1",
        1, {device, store_->number(r[2])});
    const std::uint64_t newest = last_sequence(static_cast<std::uint32_t>(device));
    out.push_back({static_cast<std::uint32_t>(device), before.empty() ? 1 : store_->wide(before[0][0]) + 1,
                   after.empty() ? newest : store_->wide(after[0][0]) - 1});
  }
  return out;
}

std::optional<std::uint64_t> Archive::made_before(std::uint32_t device, std::uint64_t last,
                                                  std::int64_t at_s) const {
  const long long end = stored(last);
  const auto ask = [&](const std::string& what, const std::string& which, const std::vector<Value>& values) {
    return store_->query("select " + what + " from record where device = :d and " + which, 1, values)[0][0];
  };
  if (ask("coalesce(min(sequence), 0)", "sequence <= :l", {device, end}) == "0") return std::nullopt;
  // The sign before a column keeps SQLite from reading the whole log in the order of its numbers: the index
  // record_date holds all that is asked.
  const std::string later = ask(fmt::format("coalesce(min(+sequence), {})", end + 1),
                                "utc_s >= :t and +sequence <= :l and kind in (1, 2)", {device, at_s, end});
  return store_->wide(ask("coalesce(max(sequence), 0)", "sequence < :e and kind in (1, 2) and utc_s > 0",
                          {device, store_->number(later)}));
}

std::vector<StoredRecord> Archive::records(std::optional<std::uint32_t> device) const {
  return find({.device = device});
}

}  // namespace strandproof::host::archive
