#include "host-tool/archive/engine.hpp"

#include <fmt/core.h>
#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <string_view>

#include "host-tool/archive/place.hpp"

namespace strandproof::host::archive {
namespace {

constexpr const char* unchanged = "; nothing has been changed";

std::string sqlite_connection(const std::string& path) {
  if (path.find_first_of("\"'") != std::string::npos)
    throw bad_input("archive " + path + ": a name may hold no quotation mark; choose another");
  const auto folder = std::filesystem::path{path}.parent_path();
  std::error_code ignored;  // a folder that can not be made shows itself when the file is opened
  if (!folder.empty()) std::filesystem::create_directories(folder, ignored);
  return "dbname=\"" + path + "\"";
}

std::string what_sqlite_means(const soci::sqlite3_soci_error& e) {
  switch (e.result() & 0xFF) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return "in use by another program; close that program and try again";
    case SQLITE_FULL:
      return "the disk is full or the quota is used up; free space and try again";
    case SQLITE_READONLY:
    case SQLITE_PERM:
      return "may not be written; check the permissions of file and folder";
    case SQLITE_CANTOPEN:
      return "can not be opened; check the name and the permissions of its folder";
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
      return "is not an archive or is damaged; restore it from a backup, or name another file";
    case SQLITE_IOERR:
      return "the disk reports an error; check the disk, then open it again: it is written anew first";
    default:
      return e.what();
  }
}

std::string first_line(const std::string& text) {
  return text.substr(0, text.find('\n'));
}

bool lost(const soci::postgresql_soci_error& e) {
  const std::string state = e.sqlstate();
  return e.get_error_category() == soci::soci_error::connection_error || state.starts_with("08") ||
         state.starts_with("57P") || state.find_first_not_of(' ') == std::string::npos;
}

std::string what_postgresql_means(const soci::postgresql_soci_error& e) {
  const std::string state = e.sqlstate();
  if (state.starts_with("53"))
    return "the server is short of disk, memory or connections; make room and try again";
  if (state == "55P03" || state == "40P01" || state == "40001")
    return "in use by another program; close that program and try again";
  if (state == "42501" || state == "25006")
    return "may not be written; ask for the right to create and write tables in it";
  if (lost(e))
    return "the connection to the server failed (" + first_line(e.what()) +
           "); look at server and network, then try again";
  return first_line(e.what());
}

std::string setting(soci::session& sql, const std::string& name) {
  std::string value;
  sql << "show " + name, soci::into(value);
  return value;
}

struct Promise {
  const char* setting;
  std::array<std::string_view, 3> good;
};

// A confirmed commit is on the server's disk, and stays readable after a torn page.
constexpr std::array<Promise, 3> durable{{{"synchronous_commit", {"on", "remote_write", "remote_apply"}},
                                          {"fsync", {"on"}},
                                          {"full_page_writes", {"on"}}}};

void demand_durable(soci::session& sql, const std::string& name) {
  for (const auto& p : durable) {
    const std::string held = setting(sql, p.setting);
    if (std::find(p.good.begin(), p.good.end(), held) == p.good.end()) {
      throw bad_input(fmt::format(
          "archive {}: the server has {} = {}, so that a confirmed record could be lost; set it to on{}",
          name, p.setting, held, unchanged));
    }
  }
}

void open_sqlite(soci::session& sql, const std::string& place, const Options& options) {
  sql.open(soci::sqlite3, sqlite_connection(place));
  sql << fmt::format("pragma busy_timeout = {}", options.busy_timeout_ms);
}

void open_postgresql(soci::session& sql, const std::string& place, const Options& options) {
  sql.open(soci::postgresql, place);
  sql << "set client_min_messages = warning";
  sql << fmt::format("set lock_timeout = {}", options.busy_timeout_ms);
  demand_durable(sql, shown_place(place));
}

}  // namespace

Engine engine_of(const std::string& place) {
  return place.starts_with("postgresql://") || place.starts_with("postgres://") ? Engine::postgresql
                                                                                : Engine::sqlite;
}

void open_session(soci::session& sql, const std::string& place, const Options& options) {
  if (engine_of(place) == Engine::sqlite) {
    open_sqlite(sql, place, options);
  } else {
    open_postgresql(sql, place, options);
  }
}

bool is_of_the_disk(const std::exception& error) {
  const auto* s = dynamic_cast<const soci::sqlite3_soci_error*>(&error);
  return s != nullptr && (s->result() & 0xFF) == SQLITE_IOERR;
}

Problem explained(const std::string& name, const std::exception& error, bool committing) {
  std::string what = first_line(error.what());
  const auto* p = dynamic_cast<const soci::postgresql_soci_error*>(&error);
  if (const auto* s = dynamic_cast<const soci::sqlite3_soci_error*>(&error)) what = what_sqlite_means(*s);
  if (p != nullptr) what = what_postgresql_means(*p);
  // What libpq says of a connection that was not made comes as no error of the engine's, in a second line.
  constexpr std::string_view not_made = "Cannot establish connection to the database.\n";
  if (const std::string_view whole = error.what(); whole.starts_with(not_made))
    what = "the connection to the server failed (" + first_line(std::string{whole.substr(not_made.size())}) +
           "); look at address, server, user and ~/.pgpass, then try again";
  const bool not_known = committing && (is_of_the_disk(error) || (p != nullptr && lost(*p)));
  const char* after =
      not_known ? "; whether it was entered is not known: look before doing it again" : unchanged;
  return bad_input(fmt::format("archive {}: {}{}", name, what, after));
}

}  // namespace strandproof::host::archive
