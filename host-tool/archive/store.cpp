#include "host-tool/archive/store.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <unistd.h>

#include <filesystem>

#include "host-tool/archive/schema.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {
namespace {

std::string connection(const std::string& path) {
  if (path.find_first_of("\"'") != std::string::npos)
    throw bad_input("archive " + path + ": a name may hold no quotation mark; choose another");
  const auto folder = std::filesystem::path{path}.parent_path();
  std::error_code ignored;  // a folder that can not be made shows itself when the file is opened
  if (!folder.empty()) std::filesystem::create_directories(folder, ignored);
  return "dbname=\"" + path + "\"";
}

// The engine writes a copy without flushing it; the migration must not begin before it is on the disk.
bool flushed(const std::string& file) {
  const int fd = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
  if (fd < 0) return false;
  const bool good = ::fsync(fd) == 0;
  ::close(fd);
  return good;
}

}  // namespace

Problem Store::explained(int engine_code, const std::string& engine_text) const {
  std::string what;
  switch (engine_code & 0xFF) {
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
      what = engine_text;
  }
  return bad_input(fmt::format("archive {}: {}; nothing has been changed", path_, what));
}

std::string Store::bytes(const std::string& hex) const {
  auto raw = from_hex(hex);
  if (!raw) throw bad_input("archive " + path_ + ": damaged bytes; restore it from a backup");
  return *raw;
}

Store::Store(const std::string& path, const Options& options) : path_{path} {
  guarded([&] {
    session_.open(soci::sqlite3, connection(path));
    session_ << fmt::format("pragma busy_timeout = {}", options.busy_timeout_ms);
    // The version is looked at before anything that writes: a newer archive stays as it is.
    const int version = checked_version();
    std::string mode;
    session_ << "pragma journal_mode = wal", soci::into(mode);
    session_ << "pragma synchronous = full";
    session_ << "pragma foreign_keys = on";
    if (options.page_limit > 0) session_ << fmt::format("pragma max_page_count = {}", options.page_limit);
    if (version == 0) create();
    if (version != 0 && version < schema_version) migrate(version, options);
  });
}

// A full disk may have rolled back by itself; then there is nothing left to do and the engine says so.
void Store::roll_back() noexcept {
  try {
    session_ << "rollback";
  } catch (const std::exception&) {
    return;
  }
}

// 0: an empty file.
int Store::held_version() {
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

int Store::checked_version() {
  const int version = held_version();
  if (version > schema_version) {
    throw bad_input(
        fmt::format("archive {}: made by a newer strandproof (schema {}, this one knows {}); use the newer "
                    "program; nothing has been changed",
                    path_, version, schema_version));
  }
  return version;
}

void Store::create() {
  in_transaction([&] {
    if (held_version() != 0) return false;  // another program was quicker
    for (const char* statement : schema_1) session_ << statement;
    for (const char* statement : schema_2_of_1) session_ << statement;
    session_ << "insert into archive_schema (version) values (:v)", soci::use(schema_version);
    return true;
  });
}

void Store::migrate(int from, const Options& options) {
  const std::string copy = back_up(from);
  const bool changed = in_transaction([&] {
    if (held_version() != from) return false;  // another program was quicker
    for (const char* statement : schema_2_of_1) session_ << statement;
    session_ << "update archive_schema set version = :v", soci::use(schema_version);
    return true;
  });
  if (changed && options.tell) {
    options.tell(fmt::format("archive {}: brought from schema {} to {}; as it was before: {}", path_, from,
                             schema_version, copy));
  }
}

// A copy that is whole and on the disk, under a name that was free.
std::string Store::back_up(int from) {
  std::string copy = fmt::format("{}.schema-{}", path_, from);
  for (int n = 2; std::filesystem::exists(copy); ++n) copy = fmt::format("{}.schema-{}-{}", path_, from, n);
  try {
    session_ << "vacuum into '" + copy + "'";
    if (!flushed(copy)) throw bad_input(copy + ": the backup can not be written; check the disk");
  } catch (...) {
    std::error_code ignored;  // half a copy is of no use; that it stays is said by the next name
    std::filesystem::remove(copy, ignored);
    throw;
  }
  return copy;
}

}  // namespace strandproof::host::archive
