// Records, instructions and gauge tables; history.cpp holds the rest.
#include "host-tool/archive/archive.hpp"

#include <fmt/core.h>

#include "host-tool/archive/store.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {

Archive::Archive(const std::string& path, const Options& options)
    : store_{std::make_unique<Store>(path, options)} {}
Archive::~Archive() = default;

Added Archive::add(std::span<const StoredRecord> records) {
  return store_->in_transaction([&] {
    Added result{};
    auto& sql = store_->session();
    for (const auto& r : records) {
      const long long device = r.device, boot = r.boot, sequence = wide(r.sequence), tick = wide(r.tick_ms);
      const std::string hex = to_hex(r.body);
      std::string held;
      long long held_boot = 0, held_tick = 0;
      // A sequence is used once for ever, so the boot is compared and not looked for.
      sql << "select body_hex, boot, tick_ms from record where device = :d and sequence = :s",
          soci::into(held), soci::into(held_boot), soci::into(held_tick), soci::use(device),
          soci::use(sequence);
      if (!sql.got_data()) {
        sql << "insert into record (device, boot, sequence, tick_ms, body_hex) values (:d, :b, :s, :t, :h)",
            soci::use(device), soci::use(boot), soci::use(sequence), soci::use(tick), soci::use(hex);
        ++result.added;
      } else if (held == hex && held_boot == boot && held_tick == tick) {
        ++result.already_held;
      } else {
        throw refused(
            fmt::format("archive {}: jack {} now shows other bytes for record {} of boot {} than the archive "
                        "holds; its memory was renewed or damaged: keep this archive, use another one "
                        "(--archive) and report it",
                        store_->path(), device, sequence, boot));
      }
    }
    return result;
  });
}

std::uint64_t Archive::last_sequence(std::uint32_t device) const {
  return store_->guarded([&] {
    const long long d = device;
    long long last = 0;
    store_->session() << "select coalesce(max(sequence), 0) from record where device = :d", soci::into(last),
        soci::use(d);
    return static_cast<std::uint64_t>(last);
  });
}

std::vector<StoredRecord> Archive::records(std::optional<std::uint32_t> device) const {
  return store_->guarded([&] {
    const long long only = device ? static_cast<long long>(*device) : -1;
    long long from = 0, boot = 0, sequence = 0, tick = 0;
    std::string hex;
    soci::statement query =
        (store_->session().prepare << "select device, boot, sequence, tick_ms, body_hex from record "
                                      "where :o = -1 or device = :p order by device, sequence, boot",
         soci::into(from), soci::into(boot), soci::into(sequence), soci::into(tick), soci::into(hex),
         soci::use(only), soci::use(only));
    std::vector<StoredRecord> out;
    query.execute();
    while (query.fetch()) {
      out.push_back({narrow(from), narrow(boot), static_cast<std::uint64_t>(sequence),
                     static_cast<std::uint64_t>(tick), store_->bytes(hex)});
    }
    return out;
  });
}

std::uint32_t Archive::next_instruction_id(std::uint32_t device) const {
  return store_->guarded([&] {
    const long long d = device;
    long long last = 0;
    store_->session() << "select coalesce(max(id), 0) from instruction where device = :d", soci::into(last),
        soci::use(d);
    return narrow(last + 1);
  });
}

void Archive::add(const SentInstruction& i) {
  store_->in_transaction([&] {
    const long long device = i.device, id = i.id, bed = i.bed, position = i.position, sent = i.sent_s;
    const std::string hex = to_hex(i.body);
    store_->session()
        << "insert into instruction (device, id, bed, position, body_hex, sent_s) values (:d, :i, :b, "
           ":p, :h, :s)",
        soci::use(device), soci::use(id), soci::use(bed), soci::use(position), soci::use(hex),
        soci::use(sent);
    return true;
  });
}

std::vector<SentInstruction> Archive::instructions(std::uint32_t bed) const {
  return store_->guarded([&] {
    const long long b = bed;
    long long device = 0, id = 0, position = 0, sent = 0;
    std::string hex;
    soci::statement query =
        (store_->session().prepare << "select device, id, position, body_hex, sent_s from "
                                      "instruction where bed = :b order by device, id",
         soci::into(device), soci::into(id), soci::into(position), soci::into(hex), soci::into(sent),
         soci::use(b));
    std::vector<SentInstruction> out;
    query.execute();
    while (query.fetch()) {
      out.push_back({narrow(device), narrow(id), bed, narrow(position), store_->bytes(hex), sent});
    }
    return out;
  });
}

std::optional<SentInstruction> Archive::instruction(std::uint32_t device, std::uint32_t id) const {
  return store_->guarded([&]() -> std::optional<SentInstruction> {
    const long long d = device, i = id;
    long long bed = 0, position = 0, sent = 0;
    std::string hex;
    store_->session() << "select bed, position, body_hex, sent_s from instruction where device = :d and id = "
                         ":i",
        soci::into(bed), soci::into(position), soci::into(hex), soci::into(sent), soci::use(d), soci::use(i);
    if (!store_->session().got_data()) return std::nullopt;
    return SentInstruction{device, id, narrow(bed), narrow(position), store_->bytes(hex), sent};
  });
}

std::optional<LoadedTable> Archive::table(std::uint32_t device, std::uint32_t revision) const {
  return store_->guarded([&]() -> std::optional<LoadedTable> {
    const long long d = device, r = revision;
    LoadedTable t{device, revision, {}, {}, 0};
    long long loaded = 0;
    store_->session() << "select sha256, json, loaded_s from gauge_table where device = :d and revision = :r",
        soci::into(t.sha256_hex), soci::into(t.json), soci::into(loaded), soci::use(d), soci::use(r);
    if (!store_->session().got_data()) return std::nullopt;
    t.loaded_s = loaded;
    return t;
  });
}

}  // namespace strandproof::host::archive
