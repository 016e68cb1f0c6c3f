// An archive in a folder of its own, and SQLite itself beside the code under test.
#pragma once

#include <gtest/gtest.h>
#include <sqlite3.h>

#include <string>

#include "host-tool/archive/archive.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::archive {

using test::problem_of;

class ArchiveTest : public test::FolderTest {
 protected:
  void SetUp() override {
    FolderTest::SetUp();
    path_ = folder_ + "/archive.sqlite";
  }

  // What the engine says to a statement, "" for no error.
  [[nodiscard]] std::string said_to(const std::string& statement) const {
    sqlite3* db = nullptr;
    EXPECT_EQ(sqlite3_open(path_.c_str(), &db), SQLITE_OK);
    const bool good = sqlite3_exec(db, statement.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK;
    const std::string said = good ? "" : sqlite3_errmsg(db);
    sqlite3_close(db);
    return said;
  }
  void sql(const std::string& statement) const { EXPECT_EQ(said_to(statement), ""); }

  // The first column of the first row of a query on the file, as text.
  [[nodiscard]] static std::string value(const std::string& file, const std::string& query) {
    sqlite3* db = nullptr;
    sqlite3_stmt* prepared = nullptr;
    EXPECT_EQ(sqlite3_open_v2(file.c_str(), &db, SQLITE_OPEN_READONLY, nullptr), SQLITE_OK);
    EXPECT_EQ(sqlite3_prepare_v2(db, query.c_str(), -1, &prepared, nullptr), SQLITE_OK) << sqlite3_errmsg(db);
    std::string text;
    if (sqlite3_step(prepared) == SQLITE_ROW)
      text = reinterpret_cast<const char*>(sqlite3_column_text(prepared, 0));
    sqlite3_finalize(prepared);
    sqlite3_close(db);
    return text;
  }

  std::string path_;
};

inline std::vector<StoredRecord> some(std::uint64_t first, int count) {
  std::vector<StoredRecord> out;
  for (int i = 0; i < count; ++i) {
    const auto n = first + static_cast<std::uint64_t>(i);
    out.push_back({1001, 7, n, n * 10, std::string("\x00\xff record ", 10) + std::to_string(n)});
  }
  return out;
}

}  // namespace strandproof::host::archive
