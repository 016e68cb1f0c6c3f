// Records, instructions and gauge tables; history.cpp holds the rest.
#include "host-tool/archive/archive.hpp"

#include <fmt/core.h>

#include "host-tool/archive/store.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {

Archive::Archive(const std::string& path, const Options& options)
    : store_{std::make_unique<Store>(path, options)} {}
Archive::~Archive() = default;

Added Archive::add(std::span<const StoredRecord> records) {
  Added result{};
  store_->in_transaction([&] {
    for (const auto& r : records) {
      const std::string hex = to_hex(r.body);
      const Row same{hex, std::to_string(r.boot), std::to_string(r.tick_ms)};
      // A sequence is used once for ever, so the boot is compared and not looked for.
      const auto held =
          store_->query("select body_hex, boot, tick_ms from record where device = :d and sequence = :s", 3,
                        {r.device, stored(r.sequence)});
      if (held.empty()) {
        store_->run(
            "insert into record (device, boot, sequence, tick_ms, body_hex) values (:d, :b, :s, :t, :h)",
            {r.device, r.boot, stored(r.sequence), stored(r.tick_ms), hex});
        ++result.added;
      } else if (held[0] == same) {
        ++result.already_held;
      } else {
        throw refused(
            fmt::format("archive {}: jack {} now shows other bytes for record {} of boot {} than the archive "
                        "holds; its memory was renewed or damaged: keep this archive, use another one "
                        "(--archive) and report it",
                        store_->path(), r.device, r.sequence, r.boot));
      }
    }
  });
  return result;
}

std::uint64_t Archive::last_sequence(std::uint32_t device) const {
  return store_->wide(
      store_->query("select coalesce(max(sequence), 0) from record where device = :d", 1, {device})[0][0]);
}

std::vector<StoredRecord> Archive::records(std::optional<std::uint32_t> device) const {
  const long long only = device ? static_cast<long long>(*device) : -1;
  std::vector<StoredRecord> out;
  for (const auto& r :
       store_->query("select device, boot, sequence, tick_ms, body_hex from record where :o = -1 "
                     "or device = :p order by device, sequence, boot",
                     5, {only, only})) {
    out.push_back({store_->narrow(r[0]), store_->narrow(r[1]), store_->wide(r[2]), store_->wide(r[3]),
                   store_->bytes(r[4])});
  }
  return out;
}

std::uint32_t Archive::next_instruction_id(std::uint32_t device) const {
  return 1 + store_->narrow(store_->query("select coalesce(max(id), 0) from instruction where device = :d", 1,
                                          {device})[0][0]);
}

void Archive::add(const SentInstruction& i) {
  store_->in_transaction([&] {
    store_->run(
        "insert into instruction (device, id, bed, position, body_hex, sent_s) values (:d, :i, :b, :p, :h, "
        ":s)",
        {i.device, i.id, i.bed, i.position, to_hex(i.body), i.sent_s});
  });
}

std::vector<SentInstruction> Archive::instructions(std::uint32_t bed) const {
  std::vector<SentInstruction> out;
  for (const auto& r :
       store_->query("select device, id, position, body_hex, sent_s from instruction where bed = "
                     ":b order by device, id",
                     5, {bed})) {
    out.push_back({store_->narrow(r[0]), store_->narrow(r[1]), bed, store_->narrow(r[2]), store_->bytes(r[3]),
                   store_->number(r[4])});
  }
  return out;
}

std::optional<SentInstruction> Archive::instruction(std::uint32_t device, std::uint32_t id) const {
  const auto found =
      store_->query("select bed, position, body_hex, sent_s from instruction where device = :d and id = :i",
                    4, {device, id});
  if (found.empty()) return std::nullopt;
  const Row& r = found[0];
  return SentInstruction{
      device, id, store_->narrow(r[0]), store_->narrow(r[1]), store_->bytes(r[2]), store_->number(r[3])};
}

std::optional<LoadedTable> Archive::table(std::uint32_t device, std::uint32_t revision) const {
  const auto found =
      store_->query("select sha256, json, loaded_s from gauge_table where device = :d and revision = :r", 3,
                    {device, revision});
  if (found.empty()) return std::nullopt;
  return LoadedTable{device, revision, found[0][0], found[0][1], store_->number(found[0][2])};
}

}  // namespace strandproof::host::archive
