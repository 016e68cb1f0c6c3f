#include "host-tool/archive/store.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>
#include <unistd.h>

#include <charconv>
#include <filesystem>

#include "host-tool/archive/schema.hpp"
#include "host-tool/base/problem.hpp"
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

Problem explained(const std::string& path, int engine_code, const std::string& engine_text) {
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
  return bad_input(fmt::format("archive {}: {}; nothing has been changed", path, what));
}

// Runs the work; an engine's error becomes one clear line.
template <class Work>
auto guarded(const std::string& path, Work work) -> decltype(work()) {
  try {
    return work();
  } catch (const soci::sqlite3_soci_error& e) {
    throw explained(path, e.result(), e.what());
  } catch (const soci::soci_error& e) {
    throw explained(path, SQLITE_ERROR, e.what());
  }
}

}  // namespace

class Store::Session {
 public:
  soci::session sql;
};

std::string Store::bytes(const std::string& hex) const {
  auto raw = from_hex(hex);
  if (!raw) throw bad_input("archive " + path_ + ": damaged bytes; restore it from a backup");
  return *raw;
}

long long Store::number(const std::string& text) const {
  long long value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size())
    throw bad_input("archive " + path_ + ": damaged number; restore it from a backup");
  return value;
}

std::uint32_t Store::narrow(const std::string& text) const {
  return static_cast<std::uint32_t>(number(text));
}
std::uint64_t Store::wide(const std::string& text) const {
  return static_cast<std::uint64_t>(number(text));
}

Store::Store(const std::string& path, const Options& options)
    : path_{path}, session_{std::make_unique<Session>()} {
  guarded(path_, [&] { session_->sql.open(soci::sqlite3, connection(path)); });
  open(options);
}

Store::~Store() = default;

void Store::open(const Options& options) {
  run(fmt::format("pragma busy_timeout = {}", options.busy_timeout_ms));
  // The version is looked at before anything that writes: a newer archive stays as it is.
  const int version = checked_version();
  (void)query("pragma journal_mode = wal", 1);
  run("pragma synchronous = full");
  run("pragma foreign_keys = on");
  if (options.page_limit > 0) run(fmt::format("pragma max_page_count = {}", options.page_limit));
  if (version == 0) create();
  if (version != 0 && version < schema_version) migrate(version, options);
}

void Store::run(const std::string& statement, const std::vector<Value>& values) {
  (void)query(statement, 0, values);
}

std::vector<Row> Store::query(const std::string& statement, std::size_t columns,
                              const std::vector<Value>& values) {
  return guarded(path_, [&] {
    Row row(columns);
    soci::statement prepared{session_->sql};
    for (const auto& value : values)
      std::visit([&](const auto& held) { prepared.exchange(soci::use(held)); }, value);
    for (auto& column : row) prepared.exchange(soci::into(column));
    prepared.alloc();
    prepared.prepare(statement);
    prepared.define_and_bind();
    std::vector<Row> rows;
    if (columns == 0) {
      prepared.execute(true);
      return rows;
    }
    prepared.execute();
    while (prepared.fetch()) rows.push_back(row);
    return rows;
  });
}

void Store::in_transaction(const std::function<void()>& work) {
  run("begin immediate");
  try {
    work();
    run("commit");
  } catch (...) {
    roll_back();
    throw;
  }
}

// A full disk may have rolled back by itself; then there is nothing left to do and the engine says so.
void Store::roll_back() noexcept {
  try {
    run("rollback");
  } catch (const std::exception&) {
    return;
  }
}

// 0: an empty file.
int Store::held_version() {
  const Row found = query(
      "select count(*), coalesce(sum(name = 'archive_schema'), 0) from sqlite_master where type = 'table'",
      2)[0];
  if (found[0] == "0") return 0;
  if (found[1] == "0")
    throw bad_input("archive " + path_ + ": holds other tables than ours; name another file");
  const auto version = query("select version from archive_schema", 1);
  if (version.size() != 1) throw bad_input("archive " + path_ + ": is damaged; restore it from a backup");
  return static_cast<int>(number(version[0][0]));
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
    if (held_version() != 0) return;  // another program was quicker
    for (const char* statement : schema_1) run(statement);
    for (const char* statement : schema_2_of_1) run(statement);
    run("insert into archive_schema (version) values (:v)", {schema_version});
  });
}

void Store::migrate(int from, const Options& options) {
  const std::string copy = back_up(from);
  bool changed = false;
  in_transaction([&] {
    if (held_version() != from) return;  // another program was quicker
    for (const char* statement : schema_2_of_1) run(statement);
    run("update archive_schema set version = :v", {schema_version});
    changed = true;
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
    run("vacuum into '" + copy + "'");
    if (!flushed(copy)) throw bad_input(copy + ": the backup can not be written; check the disk");
  } catch (...) {
    std::error_code ignored;  // half a copy is of no use; that it stays is said by the next name
    std::filesystem::remove(copy, ignored);
    throw;
  }
  return copy;
}

}  // namespace strandproof::host::archive
