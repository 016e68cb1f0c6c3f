// SOCI is seen here and nowhere else. Bytes are kept as hexadecimal text: blobs differ between engines.
#include "host-tool/archive/archive.hpp"

#include <fmt/core.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <filesystem>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {
namespace {

constexpr int schema_version = 1;

constexpr const char* schema[] = {
    "create table archive_schema (version integer not null)",
    "create table record (device bigint not null, boot bigint not null, sequence bigint not null, "
    "tick_ms bigint not null, body_hex text not null, primary key (device, boot, sequence))",
    "create table instruction (device bigint not null, id bigint not null, bed bigint not null, "
    "position bigint not null, body_hex text not null, sent_s bigint not null, primary key (device, id))",
    "create table gauge_table (device bigint not null, revision bigint not null, sha256 text not null, "
    "json text not null, loaded_s bigint not null, primary key (device, revision))"};

Problem explain(const std::string& path, const soci::sqlite3_soci_error& e) {
  const char* what = nullptr;
  switch (e.result() & 0xFF) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      what = "in use by another program; close that program and try again";
      break;
    case SQLITE_FULL:
      what = "the disk is full or the quota is used up; free space and try again";
      break;
    case SQLITE_READONLY:
    case SQLITE_PERM:
      what = "may not be written; check the permissions of file and folder";
      break;
    case SQLITE_CANTOPEN:
      what = "can not be opened; check the name and the permissions of its folder";
      break;
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
      what = "is not an archive or is damaged; restore it from a backup, or name another file";
      break;
    case SQLITE_IOERR:
      what = "the disk reports an error; check the disk and try again";
      break;
    default:
      return bad_input(fmt::format("archive {}: {}; nothing has been changed", path, e.what()));
  }
  return bad_input(fmt::format("archive {}: {}; nothing has been changed", path, what));
}

long long wide(std::uint64_t value) {
  return static_cast<long long>(value);
}
std::uint32_t narrow(long long value) {
  return static_cast<std::uint32_t>(value);
}

std::string bytes(const std::string& hex, const std::string& path) {
  auto raw = from_hex(hex);
  if (!raw) throw bad_input("archive " + path + ": damaged bytes; restore it from a backup");
  return *raw;
}

std::string connection(const std::string& path) {
  if (path.find('"') != std::string::npos) throw bad_input("archive " + path + ": a name may not hold '\"'");
  const auto folder = std::filesystem::path{path}.parent_path();
  std::error_code ignored;  // a folder that can not be made shows itself when the file is opened
  if (!folder.empty()) std::filesystem::create_directories(folder, ignored);
  return "dbname=\"" + path + "\"";
}

}  // namespace

class Archive::Impl {
 public:
  Impl(const std::string& path, const Options& options) : path_{path} {
    guarded([&] {
      session_.open(soci::sqlite3, connection(path));
      session_ << fmt::format("pragma busy_timeout = {}", options.busy_timeout_ms);
      // The version is looked at before anything that writes: a newer archive stays as it is.
      const int version = held_version();
      if (version > schema_version) {
        throw bad_input(
            fmt::format("archive {}: made by a newer strandproof (schema {}, this one knows {}); use the "
                        "newer program; nothing has been changed",
                        path, version, schema_version));
      }
      std::string mode;
      session_ << "pragma journal_mode = wal", soci::into(mode);
      session_ << "pragma synchronous = full";
      session_ << "pragma foreign_keys = on";
      if (options.page_limit > 0) session_ << fmt::format("pragma max_page_count = {}", options.page_limit);
      if (version == 0) create();
    });
  }

  // Runs the work; an engine's error becomes one clear line.
  template <class Work>
  auto guarded(Work work) -> decltype(work()) {
    try {
      return work();
    } catch (const soci::sqlite3_soci_error& e) {
      throw explain(path_, e);
    } catch (const soci::soci_error& e) {
      throw bad_input(fmt::format("archive {}: {}; nothing has been changed", path_, e.what()));
    }
  }

  // Begin immediate: two writers meet here, before either has done work.
  template <class Work>
  auto in_transaction(Work work) {
    return guarded([&] {
      session_ << "begin immediate";
      try {
        auto result = work();
        session_ << "commit";
        return result;
      } catch (...) {
        roll_back();
        throw;
      }
    });
  }

  soci::session& session() { return session_; }
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  // A full disk may have rolled back by itself; then there is nothing left to do and the engine says so.
  void roll_back() noexcept {
    try {
      session_ << "rollback";
    } catch (const std::exception&) {
      return;
    }
  }

  // 0: an empty file.
  int held_version() {
    int tables = 0;
    int ours = 0;
    session_ << "select count(*), coalesce(sum(name = 'archive_schema'), 0) from sqlite_master where type = "
                "'table'",
        soci::into(tables), soci::into(ours);
    if (tables == 0) return 0;
    if (ours == 0) throw bad_input("archive " + path_ + ": holds other tables than ours; name another file");
    int version = 0;
    session_ << "select version from archive_schema", soci::into(version);
    return version;
  }

  void create() {
    session_ << "begin immediate";
    try {
      for (const char* statement : schema) session_ << statement;
      session_ << "insert into archive_schema (version) values (:v)", soci::use(schema_version);
      session_ << "commit";
    } catch (...) {
      roll_back();
      throw;
    }
  }

  std::string path_;
  soci::session session_;
};

Archive::Archive(const std::string& path, const Options& options)
    : impl_{std::make_unique<Impl>(path, options)} {}
Archive::~Archive() = default;

Added Archive::add(std::span<const StoredRecord> records) {
  return impl_->in_transaction([&] {
    Added result{};
    auto& sql = impl_->session();
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
                        impl_->path(), device, sequence, boot));
      }
    }
    return result;
  });
}

std::uint64_t Archive::last_sequence(std::uint32_t device) const {
  return impl_->guarded([&] {
    const long long d = device;
    long long last = 0;
    impl_->session() << "select coalesce(max(sequence), 0) from record where device = :d", soci::into(last),
        soci::use(d);
    return static_cast<std::uint64_t>(last);
  });
}

std::vector<StoredRecord> Archive::records(std::optional<std::uint32_t> device) const {
  return impl_->guarded([&] {
    const long long only = device ? static_cast<long long>(*device) : -1;
    long long from = 0, boot = 0, sequence = 0, tick = 0;
    std::string hex;
    soci::statement query =
        (impl_->session().prepare << "select device, boot, sequence, tick_ms, body_hex from record "
                                     "where :o = -1 or device = :p order by device, sequence, boot",
         soci::into(from), soci::into(boot), soci::into(sequence), soci::into(tick), soci::into(hex),
         soci::use(only), soci::use(only));
    std::vector<StoredRecord> out;
    query.execute();
    while (query.fetch()) {
      out.push_back({narrow(from), narrow(boot), static_cast<std::uint64_t>(sequence),
                     static_cast<std::uint64_t>(tick), bytes(hex, impl_->path())});
    }
    return out;
  });
}

std::uint32_t Archive::next_instruction_id(std::uint32_t device) const {
  return impl_->guarded([&] {
    const long long d = device;
    long long last = 0;
    impl_->session() << "select coalesce(max(id), 0) from instruction where device = :d", soci::into(last),
        soci::use(d);
    return narrow(last + 1);
  });
}

void Archive::add(const SentInstruction& i) {
  impl_->in_transaction([&] {
    const long long device = i.device, id = i.id, bed = i.bed, position = i.position, sent = i.sent_s;
    const std::string hex = to_hex(i.body);
    impl_->session()
        << "insert into instruction (device, id, bed, position, body_hex, sent_s) values (:d, :i, :b, "
           ":p, :h, :s)",
        soci::use(device), soci::use(id), soci::use(bed), soci::use(position), soci::use(hex),
        soci::use(sent);
    return true;
  });
}

std::vector<SentInstruction> Archive::instructions(std::uint32_t bed) const {
  return impl_->guarded([&] {
    const long long b = bed;
    long long device = 0, id = 0, position = 0, sent = 0;
    std::string hex;
    soci::statement query = (impl_->session().prepare << "select device, id, position, body_hex, sent_s from "
                                                         "instruction where bed = :b order by device, id",
                             soci::into(device), soci::into(id), soci::into(position), soci::into(hex),
                             soci::into(sent), soci::use(b));
    std::vector<SentInstruction> out;
    query.execute();
    while (query.fetch()) {
      out.push_back({narrow(device), narrow(id), bed, narrow(position), bytes(hex, impl_->path()), sent});
    }
    return out;
  });
}

void Archive::add(const LoadedTable& t) {
  impl_->in_transaction([&] {
    const long long device = t.device, revision = t.revision, loaded = t.loaded_s;
    impl_->session()
        << "insert into gauge_table (device, revision, sha256, json, loaded_s) values (:d, :r, :h, :j, :l)",
        soci::use(device), soci::use(revision), soci::use(t.sha256_hex), soci::use(t.json), soci::use(loaded);
    return true;
  });
}

std::optional<LoadedTable> Archive::table(std::uint32_t device, std::uint32_t revision) const {
  return impl_->guarded([&]() -> std::optional<LoadedTable> {
    const long long d = device, r = revision;
    LoadedTable t{device, revision, {}, {}, 0};
    long long loaded = 0;
    impl_->session() << "select sha256, json, loaded_s from gauge_table where device = :d and revision = :r",
        soci::into(t.sha256_hex), soci::into(t.json), soci::into(loaded), soci::use(d), soci::use(r);
    if (!impl_->session().got_data()) return std::nullopt;
    t.loaded_s = loaded;
    return t;
  });
}

}  // namespace strandproof::host::archive
