// The engine under the archive: one SQLite session behind a plain interface, with its errors as clear lines,
// transactions, and the schema with its migration. Private to this folder. SOCI is seen in store.cpp only.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <variant>
#include <vector>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::archive {

inline constexpr int schema_version = 2;

using Value = std::variant<long long, std::string>;
using Row = std::vector<std::string>;  // numbers as their decimal text

class Store {
 public:
  // Throws Problem (fault) as Archive says.
  Store(const std::string& path, const Options& options);
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  // One statement; values stand for its :names in their order. Throws Problem (fault).
  void run(const std::string& statement, const std::vector<Value>& values = {});
  // Every row of a query of so many columns, none of them ever null.
  std::vector<Row> query(const std::string& statement, std::size_t columns,
                         const std::vector<Value>& values = {});

  // All of the work or nothing. Begun immediately: two writers meet before either has done work.
  void in_transaction(const std::function<void()>& work);

  [[nodiscard]] const std::string& path() const { return path_; }
  // Of a stored hexadecimal text, and of a stored number. Throw Problem (fault) if it is none any more.
  [[nodiscard]] std::string bytes(const std::string& hex) const;
  [[nodiscard]] long long number(const std::string& text) const;
  [[nodiscard]] std::uint32_t narrow(const std::string& text) const;
  [[nodiscard]] std::uint64_t wide(const std::string& text) const;

 private:
  class Session;
  void open(const Options& options);
  void roll_back() noexcept;
  int held_version();
  int checked_version();
  void create();
  void migrate(int from, const Options& options);
  std::string back_up(int from);

  std::string path_;
  std::unique_ptr<Session> session_;
};

// SQLite keeps 64 bits with a sign; sequences and ticks stay far below.
inline long long stored(std::uint64_t value) {
  return static_cast<long long>(value);
}

}  // namespace strandproof::host::archive
