// Records, instructions and gauge tables; history.cpp holds the rest.
#include "host-tool/archive/archive.hpp"

#include <fmt/core.h>

#include <charconv>

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

// What is held under the name of a record that was not inserted. Asked for each record of a batch that comes
// again: prepared once, when the first one does.
class Held {
 public:
  explicit Held(Store& store) : store_{store} {}
  void demand_same(const StoredRecord& r) {
    if (!asked_)
      asked_ = std::make_unique<Store::Prepared>(
          store_, "select body_hex, boot, tick_ms from record where device = :d and sequence = :s", 2, 3);
    asked_->set(0, static_cast<long long>(r.device));
    asked_->set(1, stored(r.sequence));
    const Row* held = asked_->first();
    if (held != nullptr && *held == Row{to_hex(r.body), std::to_string(r.boot), std::to_string(r.tick_ms)})
      return;
    throw refused(
        fmt::format("archive {}: jack {} now shows other bytes for record {} of boot {} than the archive "
                    "holds; its memory was renewed or damaged: keep this archive, use another one "
                    "(--archive) and report it",
                    store_.name(), r.device, r.sequence, r.boot));
  }

 private:
  Store& store_;
  std::unique_ptr<Store::Prepared> asked_;
};

// A removed record that is met again stays removed, and must have the bytes that it had.
bool was_removed(Store& store, Held& names, const StoredRecord& r) {
  const auto held = store.query("select sha256, boot from removed where device = :d and sequence = :s", 2,
                                {r.device, stored(r.sequence)});
  if (held.empty()) return false;
  if (held[0] != Row{sha256_hex(r.body), std::to_string(r.boot)}) names.demand_same(r);
  return true;
}

}  // namespace

Added Archive::add(std::span<const StoredRecord> records) {
  Added result{};
  store_->in_transaction([&] {
    RecordWriter writer{*store_};
    Held names{*store_};
    const bool any_removed =
        store_->query("select count(*) from (select 1 from removed limit 1) r", 1)[0][0] != "0";
    for (const auto& r : records) {
      if (any_removed && was_removed(*store_, names, r)) {
        ++result.already_held;
      } else if (writer.insert(r)) {
        ++result.added;
      } else {
        names.demand_same(r);
        ++result.already_held;
      }
    }
  });
  return result;
}

std::uint64_t Archive::last_sequence(std::uint32_t device) const {
  return store_->wide(
      store_->query("select coalesce(max(newest), 0) from (select max(sequence) as newest from "
                    "record where device = :d union all "
                    "select max(sequence) from removed where device = :r) n",
                    1, {device, device})[0][0]);
}

const std::string& Archive::shown_place() const {
  return store_->name();
}

void Archive::demand_in_place() const {
  store_->demand_in_place();
}

Identity Archive::identity() const {
  const auto held = store_->query("select id_hex, name from archive_identity", 2);
  Identity is;
  if (held.size() == 1) {
    const std::string& hex = held[0][0];
    const auto [end, error] = std::from_chars(hex.data(), hex.data() + hex.size(), is.id, 16);
    is.id = error == std::errc{} && end == hex.data() + hex.size() ? is.id : 0;
    is.name = held[0][1];
  }
  if (is.id == 0)
    throw bad_input("archive " + store_->name() + ": has lost its identity; restore it from a backup");
  return is;
}

void Archive::rename(const std::string& name) {
  constexpr std::size_t longest = 23;
  if (name.empty() || name.size() > longest || shown(name, longest) != name || name.front() == ' ' ||
      name.back() == ' ')
    throw bad_input("name '" + shown(name) +
                    "': 1 to 23 letters of ASCII, no blank at an end, name an archive; write another one: "
                    "'archive name NAME'");
  store_->in_transaction([&] { store_->run("update archive_identity set name = :n", {name}); });
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
