// Records, instructions and gauge tables; history.cpp holds the rest.
#include "host-tool/archive/archive.hpp"

#include <fmt/core.h>

#include "host-tool/archive/store.hpp"
#include "host-tool/archive/writing.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {

Archive::Archive(const std::string& place, const Options& options)
    : store_{std::make_unique<Store>(place, options)} {}
Archive::~Archive() = default;

namespace {

// What is held, or was held and removed, under the name of a record that was not inserted.
void demand_same(Store& store, const StoredRecord& r) {
  const Row same{to_hex(r.body), std::to_string(r.boot), std::to_string(r.tick_ms)};
  const auto held =
      store.query("select body_hex, boot, tick_ms from record where device = :d and sequence = :s", 3,
                  {r.device, stored(r.sequence)});
  if (!held.empty() && held[0] == same) return;
  throw refused(
      fmt::format("archive {}: jack {} now shows other bytes for record {} of boot {} than the archive "
                  "holds; its memory was renewed or damaged: keep this archive, use another one "
                  "(--archive) and report it",
                  store.name(), r.device, r.sequence, r.boot));
}

// A removed record that is met again stays removed, and must have the bytes that it had.
bool was_removed(Store& store, const StoredRecord& r) {
  const auto held = store.query("select sha256, boot from removed where device = :d and sequence = :s", 2,
                                {r.device, stored(r.sequence)});
  if (held.empty()) return false;
  if (held[0] != Row{sha256_hex(r.body), std::to_string(r.boot)}) demand_same(store, r);
  return true;
}

}  // namespace

Added Archive::add(std::span<const StoredRecord> records) {
  Added result{};
  store_->in_transaction([&] {
    RecordWriter writer{*store_};
    const bool any_removed =
        store_->query("select count(*) from (select 1 from removed limit 1) r", 1)[0][0] != "0";
    for (const auto& r : records) {
      if (any_removed && was_removed(*store_, r)) {
        ++result.already_held;
      } else if (writer.insert(r)) {
        ++result.added;
      } else {
        demand_same(*store_, r);
        ++result.already_held;
      }
    }
  });
  return result;
}

std::uint64_t Archive::last_sequence(std::uint32_t device) const {
  return store_->wide(
      store_->query("select coalesce(max(sequence), 0) from record where device = :d", 1, {device})[0][0]);
}

std::uint64_t Archive::count() const {
  return store_->wide(store_->query("select count(*) from record", 1)[0][0]);
}

std::uint32_t Archive::next_instruction_id(std::uint32_t device) const {
  return 1 + store_->narrow(store_->query("select coalesce(max(id), 0) from instruction where device = :d", 1,
                                          {device})[0][0]);
}

void Archive::add(const SentInstruction& i) {
  store_->in_transaction([&] { insert(*store_, i); });
}

std::vector<SentInstruction> Archive::instructions(std::uint32_t bed) const {
  std::vector<SentInstruction> out;
  for (const auto& r : store_->query(
           "select device, id, position, body_hex, sent_s, plan_sha256 from instruction where bed = "
           ":b order by device, id",
           6, {bed})) {
    out.push_back({store_->narrow(r[0]), store_->narrow(r[1]), bed, store_->narrow(r[2]), store_->bytes(r[3]),
                   store_->number(r[4]), r[5]});
  }
  return out;
}

std::optional<SentInstruction> Archive::instruction(std::uint32_t device, std::uint32_t id) const {
  const auto found = store_->query(
      "select bed, position, body_hex, sent_s, plan_sha256 from instruction where device = :d "
      "and id = :i",
      5, {device, id});
  if (found.empty()) return std::nullopt;
  const Row& r = found[0];
  return SentInstruction{
      device, id, store_->narrow(r[0]), store_->narrow(r[1]), store_->bytes(r[2]), store_->number(r[3]),
      r[4]};
}

std::optional<LoadedTable> Archive::table(std::uint32_t device, std::uint32_t revision) const {
  const auto found =
      store_->query("select sha256, json, loaded_s from gauge_table where device = :d and revision = :r", 3,
                    {device, revision});
  if (found.empty()) return std::nullopt;
  return LoadedTable{device, revision, found[0][0], found[0][1], store_->number(found[0][2])};
}

}  // namespace strandproof::host::archive
