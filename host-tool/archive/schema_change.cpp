#include "host-tool/archive/schema_change.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <unistd.h>

#include <filesystem>
#include <random>

#include "host-tool/archive/entries.hpp"
#include "host-tool/archive/reading.hpp"
#include "host-tool/archive/schema.hpp"
#include "host-tool/archive/writing.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

// The engine writes a copy without flushing it; the migration must not begin before it is on the disk.
bool flushed(const std::string& file) {
  const int fd = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
  if (fd < 0) return false;
  const bool good = ::fsync(fd) == 0;
  ::close(fd);
  return good;
}

// Tables of the older schemas whose names the newest one uses again.
constexpr const char* moved_aside[] = {"record", "instruction", "gauge_table", "history"};

}  // namespace

void SchemaChange::bring_up() {
  // The version is looked at before anything that writes: a newer archive stays as it is.
  const int version = checked_version();
  if (store_.engine() == Engine::sqlite) hold_sqlite_to_promises();
  if (version == 0) create();
  if (version != 0 && version < schema_version) migrate(version);
}

void SchemaChange::hold_sqlite_to_promises() {
  // Full would not sync the folder after the journal of the very first change is deleted: a journal that
  // comes back with the power undoes the archive under its log. tests/host/archive_crash_test.cpp shows it.
  store_.run("pragma synchronous = extra");
  (void)store_.query("pragma journal_mode = wal", 1);
  (void)store_.query("pragma wal_autocheckpoint = 0", 1);  // Store::carry_over() does it and hears what fails
  (void)store_.query("pragma journal_size_limit = 0", 1);  // its size tells how much is to be carried over
  store_.run("pragma foreign_keys = on");
  if (options_.page_limit > 0) store_.run(fmt::format("pragma max_page_count = {}", options_.page_limit));
}

int SchemaChange::tables_of(const std::string& condition) const {
  const bool file = store_.engine() == Engine::sqlite;
  return static_cast<int>(store_.number(
      store_.query(fmt::format("select count(*) from {} where {}{}",
                               file ? "(select name as table_name from sqlite_master where type = 'table') t"
                                    : "information_schema.tables",
                               condition, file ? "" : " and table_schema = current_schema()"),
                   1)[0][0]));
}

// 0: nothing in it yet.
int SchemaChange::held_version() const {
  if (tables_of("1 = 1") == 0) return 0;
  if (tables_of("table_name = 'archive_schema'") == 0)
    throw bad_input("archive " + store_.name() + ": holds other tables than ours; name another one");
  const auto version = store_.query("select version from archive_schema", 1);
  if (version.size() != 1)
    throw bad_input("archive " + store_.name() + ": is damaged; restore it from a backup");
  return static_cast<int>(store_.number(version[0][0]));
}

int SchemaChange::checked_version() const {
  const int version = held_version();
  if (version > schema_version) {
    throw bad_input(
        fmt::format("archive {}: made by a newer strandproof (schema {}, this one knows {}); use the newer "
                    "program; nothing has been changed",
                    store_.name(), version, schema_version));
  }
  return version;
}

void SchemaChange::create() {
  store_.in_transaction([&] {
    if (held_version() != 0) return;  // another program was quicker
    make_tables();
    make_rest();
    make_identity();
    store_.run("insert into archive_schema (version) values (:v)", {schema_version});
  });
}

void SchemaChange::make_tables() {
  for (const char* statement : schema_tables) store_.run(statement);
}

void SchemaChange::make_rest() {
  make_indexes();
  make_triggers();
}

void SchemaChange::make_indexes() {
  for (const auto& index : schema_indexes) store_.run(fmt::format("drop index if exists {}", index.name));
  for (const auto& index : schema_indexes)
    store_.run(fmt::format("create index {} on {}", index.name, index.on));
}

void SchemaChange::make_identity() {
  std::random_device source;
  std::uint64_t id = 0;
  while (id == 0) id = std::uint64_t{source()} << 32U | source();
  store_.run(schema_identity);
  store_.run("insert into archive_identity (id_hex, name) values (:i, '')", {fmt::format("{:016x}", id)});
}

void SchemaChange::make_triggers() {
  const bool file = store_.engine() == Engine::sqlite;
  if (!file) {
    store_.run(
        "create function append_only() returns trigger language plpgsql as "
        "$$begin raise exception 'append only'; end$$");
  }
  const char* act =
      file ? "begin select raise(abort, 'append only'); end" : "for each row execute function append_only()";
  for (const std::string table : kept_tables) {
    // PostgreSQL allows no query in a trigger's condition; there the rows of `removed` are asked for in
    // append_only_record().
    const bool may_go = table == "record";
    store_.run(fmt::format("create trigger {0}_stays before update on {0} {1}", table, act));
    if (!may_go) store_.run(fmt::format("create trigger {0}_kept before delete on {0} {1}", table, act));
  }
  const std::string gone =
      "select 1 from removed g where g.device = old.device and g.sequence = old.sequence";
  if (file) {
    store_.run("create trigger record_kept before delete on record when not exists (" + gone + ") " + act);
    return;
  }
  store_.run(
      "create function append_only_record() returns trigger language plpgsql as $$begin "
      "if not exists (" +
      gone + ") then raise exception 'append only'; end if; return old; end$$");
  store_.run(
      "create trigger record_kept before delete on record for each row execute function "
      "append_only_record()");
}

void SchemaChange::migrate(int from) {
  const bool file =
      store_.engine() == Engine::sqlite;  // PostgreSQL goes back by itself, and has no older ones
  const std::string copy = file ? back_up(from) : "";
  bool changed = false;
  store_.in_transaction([&] {
    if (held_version() != from) return;  // another program was quicker
    if (from < 3) take_over(from);
    if (from >= 3) make_indexes();
    if (from < 4) make_identity();
    store_.run("update archive_schema set version = :v", {schema_version});
    changed = true;
  });
  if (changed && options_.tell) {
    options_.tell(fmt::format("archive {}: brought from schema {} to {}{}", store_.name(), from,
                              schema_version, file ? "; as it was before: " + copy : ""));
  }
}

void SchemaChange::take_over(int from) {
  for (const auto& trigger : store_.query("select name from sqlite_master where type = 'trigger'", 1))
    store_.run("drop trigger " + trigger[0]);
  for (const std::string table : moved_aside) {
    if (tables_of("table_name = '" + table + "'") == 1)
      store_.run(fmt::format("alter table {0} rename to old_{0}", table));
  }
  store_.run("alter table archive_schema rename to old_archive_schema");
  make_tables();
  store_.run("insert into archive_schema select version from old_archive_schema");
  store_.run("insert into gauge_table select device, revision, sha256, json, loaded_s from old_gauge_table");
  take_over_history(from);
  take_over_records();
  take_over_instructions();
  if (from >= 2) take_over_sign_offs();
  for (const std::string table : moved_aside) store_.run("drop table if exists old_" + table);
  store_.run("drop table old_archive_schema");
  make_rest();
}

// What was loaded under schema 1 enters the history without who and why, which nobody wrote down then.
void SchemaChange::take_over_history(int from) {
  store_.run(from == 1
                 ? "insert into history select row_number() over (order by loaded_s, revision), device, 1, "
                   "loaded_s, 'not recorded', 'loaded under schema 1', revision, sha256, '', 0, 0, '' "
                   "from old_gauge_table"
                 : "insert into history select id, device, act, at_s, by_role, why, revision, sha256, "
                   "key_fingerprint, last_record, outcome, details from old_history");
}

void SchemaChange::take_over_records() {
  RecordWriter writer{store_};
  store_.each("select device, boot, sequence, tick_ms, body_hex from old_record", 5, {}, [&](const Row& r) {
    const StoredRecord record{store_.narrow(r[0]), store_.narrow(r[1]), store_.wide(r[2]), store_.wide(r[3]),
                              store_.bytes(r[4])};
    if (!writer.insert(record)) {
      throw bad_input(
          fmt::format("archive {}: jack {} has two records {}; is damaged: restore it from a backup",
                      store_.name(), record.device, record.sequence));
    }
  });
}

void SchemaChange::take_over_instructions() {
  store_.each("select device, id, bed, position, body_hex, sent_s from old_instruction", 6, {},
              [&](const Row& r) {
                insert(store_, SentInstruction{store_.narrow(r[0]),
                                               store_.narrow(r[1]),
                                               store_.narrow(r[2]),
                                               store_.narrow(r[3]),
                                               store_.bytes(r[4]),
                                               store_.number(r[5]),
                                               {}});
              });
}

void SchemaChange::take_over_sign_offs() {
  store_.each("select bed, by_role, at_s, pulls, last_record, digest from sign_off order by id", 6, {},
              [&](const Row& r) {
                append(store_, entry_of(SignOff{store_.narrow(r[0]), r[1], store_.number(r[2]),
                                                store_.narrow(r[3]), store_.wide(r[4]), r[5]}));
              });
  store_.run("drop table sign_off");
}

// A copy that is whole and on the disk, under a name that was free.
std::string SchemaChange::back_up(int from) {
  const std::string& path = store_.place();
  std::string copy = fmt::format("{}.schema-{}", path, from);
  for (int n = 2; std::filesystem::exists(copy); ++n) copy = fmt::format("{}.schema-{}-{}", path, from, n);
  try {
    store_.run("vacuum into '" + copy + "'");
    if (!flushed(copy)) throw bad_input(copy + ": the backup can not be written; check the disk");
  } catch (...) {
    std::error_code ignored;  // half a copy is of no use; that it stays is said by the next name
    std::filesystem::remove(copy, ignored);
    throw;
  }
  return copy;
}

}  // namespace strandproof::host::archive
