// The archive: each record once, the same bytes or a refusal, and one clear line when it is locked, full,
// newer or no archive at all.
#include "host-tool/archive/archive.hpp"

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

class ArchiveTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string folder = testing::TempDir() + "archive.XXXXXX";
    ASSERT_NE(mkdtemp(folder.data()), nullptr);
    folder_ = folder;
    path_ = folder + "/archive.sqlite";
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  // By SQLite itself, beside the code under test.
  void sql(const std::string& statement) const {
    sqlite3* db = nullptr;
    ASSERT_EQ(sqlite3_open(path_.c_str(), &db), SQLITE_OK);
    EXPECT_EQ(sqlite3_exec(db, statement.c_str(), nullptr, nullptr, nullptr), SQLITE_OK)
        << sqlite3_errmsg(db);
    sqlite3_close(db);
  }

  std::string folder_;
  std::string path_;
};

std::vector<StoredRecord> some(std::uint64_t first, int count) {
  std::vector<StoredRecord> out;
  for (int i = 0; i < count; ++i) {
    const auto n = first + static_cast<std::uint64_t>(i);
    out.push_back({1001, 7, n, n * 10, std::string("\x00\xff record ", 10) + std::to_string(n)});
  }
  return out;
}

template <class Work>
std::string problem_of(Work work) {
  try {
    work();
  } catch (const Problem& p) {
    return p.what();
  }
  return "no problem";
}

TEST_F(ArchiveTest, RecordsComeBackAndAreNeverDoubled) {
  {
    Archive a{path_};
    const auto first = a.add(some(1, 5));
    EXPECT_EQ(first.added, 5);
    const auto overlap = a.add(some(4, 4));
    EXPECT_EQ(overlap.added, 2);
    EXPECT_EQ(overlap.already_held, 2);
  }
  const Archive again{path_};
  const auto all = again.records(1001);
  ASSERT_EQ(all.size(), 7U);
  for (std::size_t i = 0; i < all.size(); ++i) {
    EXPECT_EQ(all[i].sequence, i + 1);
    EXPECT_EQ(all[i].body, some(i + 1, 1)[0].body);
  }
  EXPECT_EQ(again.last_sequence(1001), 7U);
  EXPECT_EQ(again.last_sequence(1002), 0U);
  EXPECT_TRUE(again.records(1002).empty());
}

TEST_F(ArchiveTest, OtherBytesUnderAHeldNameAreRefusedAndNothingIsKeptOfTheBatch) {
  Archive a{path_};
  a.add(some(1, 3));
  auto batch = some(3, 3);
  batch[0].body += "!";
  EXPECT_NE(problem_of([&] { a.add(batch); }).find("other bytes for record 3 of boot 7"), std::string::npos);
  std::swap(batch[0], batch[2]);  // the good ones come first and must go with the bad one
  EXPECT_NE(problem_of([&] { a.add(batch); }), "no problem");
  EXPECT_EQ(a.records().size(), 3U);
}

TEST_F(ArchiveTest, InstructionsAndTablesComeBack) {
  Archive a{path_};
  EXPECT_EQ(a.next_instruction_id(1001), 1U);
  a.add(SentInstruction{1001, 1, 3, 2, "abc", 1777879800});
  EXPECT_EQ(a.next_instruction_id(1001), 2U);
  EXPECT_EQ(a.next_instruction_id(1002), 1U);
  ASSERT_EQ(a.instructions(3).size(), 1U);
  EXPECT_EQ(a.instructions(3)[0].body, "abc");
  EXPECT_TRUE(a.instructions(4).empty());
  a.add(LoadedTable{1001, 2, "00ff", "{}", 5});
  ASSERT_TRUE(a.table(1001, 2));
  EXPECT_EQ(a.table(1001, 2)->json, "{}");
  EXPECT_FALSE(a.table(1001, 1));
  EXPECT_NE(problem_of([&] { a.add(LoadedTable{1001, 2, "00ff", "{}", 5}); }), "no problem");
}

TEST_F(ArchiveTest, LockedByAnotherProgram) {
  Archive a{path_, {.busy_timeout_ms = 50}};
  a.add(some(1, 1));
  sqlite3* other = nullptr;
  ASSERT_EQ(sqlite3_open(path_.c_str(), &other), SQLITE_OK);
  ASSERT_EQ(sqlite3_exec(other, "begin immediate", nullptr, nullptr, nullptr), SQLITE_OK);
  const auto message = problem_of([&] { a.add(some(2, 1)); });
  EXPECT_NE(message.find("in use by another program"), std::string::npos) << message;
  sqlite3_exec(other, "rollback", nullptr, nullptr, nullptr);
  sqlite3_close(other);
  EXPECT_EQ(a.records().size(), 1U);
  EXPECT_EQ(a.add(some(2, 1)).added, 1);
}

TEST_F(ArchiveTest, FullLeavesWhatWasThereAndWorksAgainWithRoom) {
  {
    Archive a{path_};
    a.add(some(1, 3));
  }
  {
    Archive tight{path_, {.page_limit = 10}};
    const auto message = problem_of([&] { tight.add(some(4, 2000)); });
    EXPECT_NE(message.find("the disk is full"), std::string::npos) << message;
    EXPECT_EQ(tight.records().size(), 3U);
  }
  Archive roomy{path_};
  EXPECT_EQ(roomy.add(some(4, 2000)).added, 2000);
}

TEST_F(ArchiveTest, ANewerSchemaIsRefusedAndItsFileStaysAsItIs) {
  {
    Archive a{path_};
    a.add(some(1, 1));
  }
  sql("pragma journal_mode = delete; update archive_schema set version = 2");
  const std::string before = sha256_hex(read_file(path_));
  const auto message = problem_of([&] { Archive a{path_}; });
  EXPECT_NE(message.find("made by a newer strandproof"), std::string::npos) << message;
  EXPECT_EQ(sha256_hex(read_file(path_)), before);
}

TEST_F(ArchiveTest, WhatIsNoArchiveIsRefused) {
  std::ofstream{path_} << std::string(4096, 'x');
  EXPECT_NE(problem_of([&] { Archive a{path_}; }).find("is not an archive"), std::string::npos);
  std::filesystem::remove(path_);
  sql("create table other (x)");
  EXPECT_NE(problem_of([&] { Archive a{path_}; }).find("other tables than ours"), std::string::npos);
  EXPECT_NE(problem_of([&] { Archive a{folder_}; }).find("can not be opened"), std::string::npos);
}

}  // namespace
}  // namespace strandproof::host::archive
