// The engine under the archive: one session of SQLite or PostgreSQL behind a plain interface, with its errors
// as clear lines and with transactions. Private to this folder. SOCI is seen in store.cpp, engine.cpp and
// nowhere else.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/doubt.hpp"
#include "host-tool/base/files.hpp"

namespace strandproof::host::archive {

using Value = std::variant<long long, std::string>;
using Row = std::vector<std::string>;  // numbers as their decimal text

enum class Engine { sqlite, postgresql };

// What in_transaction holds out against others: writers are one at a time on both engines, so that a number
// that was read is still the last one when the next is written. Readers wait for nobody.
enum class Access { writing, reading };

class Store {
 public:
  // Opens the engine and, but for read_only, brings the schema to this program's. Throws Problem (fault) as
  // Archive says.
  Store(const std::string& place, const Options& options);
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  // One statement; values stand for its :names in their order. Throws Problem (fault).
  void run(const std::string& statement, const std::vector<Value>& values = {});
  // Every row of a query of so many columns, none of them ever null.
  std::vector<Row> query(const std::string& statement, std::size_t columns,
                         const std::vector<Value>& values = {});
  // The same, row by row: nothing is held but one row.
  void each(const std::string& statement, std::size_t columns, const std::vector<Value>& values,
            const std::function<void(const Row&)>& take);

  // One statement that runs many times, prepared once.
  class Prepared;

  // All of the work or nothing. Throws what the work throws; a commit whose answer was lost says that it is
  // not known.
  void in_transaction(const std::function<void()>& work, Access access = Access::writing);

  // As Archive says; of a file alone.
  void demand_in_place() const;

  [[nodiscard]] Engine engine() const { return engine_; }
  // As a person may see it: without what a URL holds of users and passwords.
  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] const std::string& place() const { return place_; }
  // Of a stored hexadecimal text, and of a stored number. Throw Problem (fault) if it is none any more.
  [[nodiscard]] std::string bytes(const std::string& hex) const;
  [[nodiscard]] long long number(const std::string& text) const;
  [[nodiscard]] std::uint32_t narrow(const std::string& text) const;
  [[nodiscard]] std::uint64_t wide(const std::string& text) const;

 private:
  friend class Prepared;
  class Session;
  void roll_back() noexcept;
  void begin(Access access);
  void demand_no_doubt();
  void carry_over() noexcept;
  template <class Work>
  auto guarded(bool committing, Work work) -> decltype(work());

  std::string place_, name_;
  std::optional<FileOnDisk> file_;  // nothing: a server, in memory, or not made yet
  Engine engine_;
  Doubt doubt_;
  std::unique_ptr<Session> session_;
};

class Store::Prepared {
 public:
  // columns: of a query, which is asked by first().
  Prepared(Store& store, const std::string& statement, std::size_t values, std::size_t columns = 0);
  ~Prepared();
  Prepared(const Prepared&) = delete;
  Prepared& operator=(const Prepared&) = delete;
  // The place of a value, to be filled before run(): a number or a text, and always the same of both.
  void set(std::size_t place, long long value);
  void set(std::size_t place, std::string value);
  // How many rows the statement touched. The first run decides which places are numbers.
  long long run();
  // The first row; null if there is none. It stands until the next call.
  const Row* first();

 private:
  class Bound;
  void execute();
  Store& store_;
  std::string statement_;
  std::unique_ptr<Bound> bound_;
};

// Both engines keep 64 bits with a sign; sequences and ticks stay far below.
inline long long stored(std::uint64_t value) {
  return static_cast<long long>(value);
}

}  // namespace strandproof::host::archive
