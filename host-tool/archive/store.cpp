#include "host-tool/archive/store.hpp"

#include <fmt/core.h>
#include <soci/soci.h>

#include <charconv>
#include <filesystem>

#include "host-tool/archive/engine.hpp"
#include "host-tool/archive/place.hpp"
#include "host-tool/archive/schema_change.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {
namespace {

// Of our writers on one PostgreSQL database; any number, the same in every program.
constexpr long long writers_lock = 7308332;

// As long as SQLite lets it become.
bool log_is_long(const std::string& place) {
  constexpr std::uintmax_t bytes = 1000 * 4096;
  std::error_code absent;
  const auto size = std::filesystem::file_size(place + "-wal", absent);
  return !absent && size > bytes;
}

}  // namespace

class Store::Session {
 public:
  soci::session sql;
};

// Runs the work; an engine's error becomes one clear line. An error of the disk puts the archive in doubt.
template <class Work>
auto Store::guarded(bool committing, Work work) -> decltype(work()) {
  try {
    return work();
  } catch (const soci::soci_error& e) {
    if (is_of_the_disk(e)) doubt_.raise();
    throw explained(name_, e, committing);
  }
}

std::string Store::bytes(const std::string& hex) const {
  auto raw = from_hex(hex);
  if (!raw) throw bad_input("archive " + name_ + ": damaged bytes; restore it from a backup");
  return *raw;
}

long long Store::number(const std::string& text) const {
  long long value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size())
    throw bad_input("archive " + name_ + ": damaged number; restore it from a backup");
  return value;
}

std::uint32_t Store::narrow(const std::string& text) const {
  return static_cast<std::uint32_t>(number(text));
}
std::uint64_t Store::wide(const std::string& text) const {
  return static_cast<std::uint64_t>(number(text));
}

Store::Store(const std::string& place, const Options& options)
    : place_{place},
      name_{shown_place(place)},
      engine_{engine_of(place)},
      doubt_{engine_ == Engine::sqlite && place != in_memory ? place : ""},
      session_{std::make_unique<Session>()} {
  demand_clear_address(place_);
  const bool anew = doubt_.settle();
  guarded(false, [&] { open_session(session_->sql, place_, options); });
  SchemaChange{*this, options}.bring_up();
  if (doubt_.applies()) file_ = file_on_disk(place_);
  if (anew && options.tell)
    options.tell("archive " + name_ + ": the disk had failed to write it; written anew from what reads back");
}

Store::~Store() {
  carry_over();
}

// The log into the file. SQLite would do it by itself, at a commit and at the close, and say nothing of a
// disk that fails there. What was confirmed is on the disk before and after: an error is no reason to take it
// back, and the doubt that it raises keeps anything from being entered behind it.
void Store::carry_over() noexcept {
  if (!doubt_.applies()) return;
  try {
    (void)query("pragma wal_checkpoint(passive)", 3);
  } catch (const std::exception&) {
    return;
  }
}

void Store::run(const std::string& statement, const std::vector<Value>& values) {
  (void)query(statement, 0, values);
}

std::vector<Row> Store::query(const std::string& statement, std::size_t columns,
                              const std::vector<Value>& values) {
  std::vector<Row> rows;
  each(statement, columns, values, [&](const Row& row) { rows.push_back(row); });
  return rows;
}

void Store::each(const std::string& statement, std::size_t columns, const std::vector<Value>& values,
                 const std::function<void(const Row&)>& take) {
  guarded(statement == "commit", [&] {
    Row row(columns);
    soci::statement prepared{session_->sql};
    for (const auto& value : values)
      std::visit([&](const auto& held) { prepared.exchange(soci::use(held)); }, value);
    for (auto& column : row) prepared.exchange(soci::into(column));
    prepared.alloc();
    prepared.prepare(statement);
    prepared.define_and_bind();
    prepared.execute(columns == 0);
    while (columns != 0 && prepared.fetch()) take(row);
  });
}

void Store::begin(Access access) {
  if (engine_ == Engine::sqlite) {
    if (access == Access::writing) demand_in_place();
    run(access == Access::writing ? "begin immediate" : "begin");
    if (access == Access::writing) demand_no_doubt();
    return;
  }
  if (access == Access::reading) {
    run("begin isolation level repeatable read read only");
    return;
  }
  run("begin");
  try {
    (void)query(fmt::format("select count(*) from (select pg_advisory_xact_lock({})) l", writers_lock), 1);
  } catch (...) {
    roll_back();
    throw;
  }
}

// A file that was copied or moved over this one while it was open: this program writes on into what has no
// name any more.
void Store::demand_in_place() const {
  if (!file_ || file_on_disk(place_) == file_) return;
  throw bad_input(
      "archive " + name_ +
      ": its file was taken away or another one was put in its place while it was open; nothing more is "
      "entered or acknowledged; begin the command again");
}

// Asked under the lock of writers: whoever raised it did so before it gave the lock away.
void Store::demand_no_doubt() {
  if (!doubt_.raised()) return;
  roll_back();
  throw bad_input(
      "archive " + name_ +
      ": the disk has failed to write it; nothing more is entered until every program has closed it "
      "and it was opened anew; nothing has been changed");
}

void Store::in_transaction(const std::function<void()>& work, Access access) {
  begin(access);
  try {
    work();
    run("commit");
  } catch (...) {
    roll_back();
    throw;
  }
  if (access == Access::writing && doubt_.applies() && log_is_long(place_)) carry_over();
}

// A full disk may have rolled back by itself; then there is nothing left to do and the engine says so.
void Store::roll_back() noexcept {
  try {
    run("rollback");
  } catch (const std::exception&) {
    return;
  }
}

// The places hold the values in memory that does not move: the statement was bound to it once.
class Store::Prepared::Bound {
 public:
  Bound(soci::session& sql, std::size_t values, std::size_t columns)
      : statement{sql}, slots(values), row(columns) {}
  soci::statement statement;
  std::vector<Value> slots;
  Row row;
  bool ready = false;
};

Store::Prepared::Prepared(Store& store, const std::string& statement, std::size_t values, std::size_t columns)
    : store_{store},
      statement_{statement},
      bound_{std::make_unique<Bound>(store.session_->sql, values, columns)} {}

Store::Prepared::~Prepared() = default;

void Store::Prepared::set(std::size_t place, long long value) {
  bound_->slots.at(place) = value;
}
void Store::Prepared::set(std::size_t place, std::string value) {
  bound_->slots.at(place) = std::move(value);
}

void Store::Prepared::execute() {
  auto& statement = bound_->statement;
  if (!bound_->ready) {
    for (const auto& slot : bound_->slots)
      std::visit([&](const auto& held) { statement.exchange(soci::use(held)); }, slot);
    for (auto& column : bound_->row) statement.exchange(soci::into(column));
    statement.alloc();
    statement.prepare(statement_);
    statement.define_and_bind();
    bound_->ready = true;
  }
  statement.execute(true);
}

long long Store::Prepared::run() {
  return store_.guarded(false, [&] {
    execute();
    return bound_->statement.get_affected_rows();
  });
}

const Row* Store::Prepared::first() {
  return store_.guarded(false, [&]() -> const Row* {
    execute();
    return bound_->statement.got_data() ? &bound_->row : nullptr;
  });
}

}  // namespace strandproof::host::archive
