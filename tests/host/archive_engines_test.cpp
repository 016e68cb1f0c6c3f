// One archive, two engines: every promise that does not name an engine is shown on both, the PostgreSQL being
// a real server of the test's own.
#include <gtest/gtest.h>

#include <future>
#include <memory>
#include <random>

#include "host-tool/archive/copy.hpp"
#include "host-tool/archive/entries.hpp"
#include "host-tool/archive/retain.hpp"
#include "host-tool/archive/self_check.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/base/files.hpp"
#include "tests/host/archive_fixture.hpp"
#include "tests/host/archive_yard.hpp"
#include "tests/host/postgres_server.hpp"

namespace strandproof::host::archive {
namespace {

class ArchiveEngines : public testing::TestWithParam<bool> {
 protected:
  void SetUp() override {
    std::string folder = testing::TempDir() + "engines.XXXXXX";
    ASSERT_NE(mkdtemp(folder.data()), nullptr);
    folder_ = folder;
    if (GetParam()) server_ = std::make_unique<PostgresServer>();
    place_ = GetParam() ? server_->url() : folder_ + "/archive.sqlite";
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::string folder_, place_;
  std::unique_ptr<PostgresServer> server_;
};

TEST_P(ArchiveEngines, EachRecordOnceTheSameBytesOrARefusal) {
  {
    Archive a{place_};
    EXPECT_EQ(a.add(some(1, 5)).added, 5);
    const auto overlap = a.add(some(4, 4));
    EXPECT_EQ(overlap.added, 2);
    EXPECT_EQ(overlap.already_held, 2);
  }
  Archive again{place_};
  auto other = some(8, 3);
  other.push_back(some(3, 1)[0]);
  other.back().body += "!";
  EXPECT_NE(problem_of([&] { again.add(other); }).find("other bytes for record 3 of boot 7"),
            std::string::npos);
  other.back() = some(3, 1)[0];
  other.back().boot = 8;
  EXPECT_NE(problem_of([&] { again.add(other); }).find("other bytes for record 3 of boot 8"),
            std::string::npos);
  const auto all = again.records(1001);
  ASSERT_EQ(all.size(), 7U) << "something of the refused batches stayed";
  for (std::size_t i = 0; i < all.size(); ++i) {
    EXPECT_EQ(all[i].body, some(i + 1, 1)[0].body);
    EXPECT_EQ(all[i].boot, 7U);
    EXPECT_EQ(all[i].tick_ms, (i + 1) * 10);
  }
  EXPECT_EQ(again.last_sequence(1001), 7U);
  EXPECT_EQ(again.last_sequence(1002), 0U);
}

TEST_P(ArchiveEngines, TheLargestNumbersComeBack) {
  Archive a{place_};
  const std::uint64_t largest = INT64_MAX;
  a.add(std::vector<StoredRecord>{{UINT32_MAX, UINT32_MAX, largest, largest, std::string(4096, '\0')}});
  const auto back = a.records();
  ASSERT_EQ(back.size(), 1U);
  EXPECT_EQ(back[0].device, UINT32_MAX);
  EXPECT_EQ(back[0].boot, UINT32_MAX);
  EXPECT_EQ(back[0].sequence, largest);
  EXPECT_EQ(back[0].tick_ms, largest);
  EXPECT_EQ(back[0].body, std::string(4096, '\0'));
}

TEST_P(ArchiveEngines, FoundByWhatTheRecordsSay) {
  Archive a{place_};
  a.add(yard(3, 40));
  struct Question {
    Filter filter;
    bool (*holds)(const YardRecord&);
  };
  const Question questions[] = {
      {{.device = 1002}, [](const YardRecord& r) { return r.device == 1002; }},
      {{.bed = 4}, [](const YardRecord& r) { return r.pull && r.bed == 4; }},
      {{.bed = 4, .position = 2},
       [](const YardRecord& r) { return r.pull && r.bed == 4 && r.position == 2; }},
      {{.reel = 11}, [](const YardRecord& r) { return r.pull && r.reel == 11; }},
      {{.device = 1001, .table = 2},
       [](const YardRecord& r) { return r.pull && r.device == 1001 && r.table == 2; }},
      {{.verdict = 3}, [](const YardRecord& r) { return r.pull && r.verdict == 3; }},
      {{.event = 3}, [](const YardRecord& r) { return !r.pull && r.event == 3; }},
      {{.cause = 14}, [](const YardRecord& r) { return r.cause == 14; }},
      {{.strand = "0.6 in 270"}, [](const YardRecord& r) { return r.pull && r.strand == "0.6 in 270"; }},
      {{.from_s = yard_begin + 7200, .until_s = yard_begin + 72000},
       [](const YardRecord& r) { return r.utc_s >= yard_begin + 7200 && r.utc_s < yard_begin + 72000; }},
      {{.device = 1003, .first = 5, .last = 9},
       [](const YardRecord& r) { return r.device == 1003 && r.sequence >= 5 && r.sequence <= 9; }}};
  for (const auto& q : questions) {
    std::vector<std::string> expected;
    for (const auto& r : yard_facts(3, 40)) {
      if (q.holds(r)) expected.push_back(fmt::format("{}/{}", r.device, r.sequence));
    }
    ASSERT_FALSE(expected.empty());
    std::vector<std::string> found;
    for (const auto& r : a.find(q.filter)) found.push_back(fmt::format("{}/{}", r.device, r.sequence));
    EXPECT_EQ(found, expected) << "question " << (&q - questions);
  }
  EXPECT_EQ(a.find({.device = 1001, .newest_first = true, .limit = 1})[0].sequence, a.last_sequence(1001));
  EXPECT_EQ(a.devices(), (std::vector<std::uint32_t>{1001, 1002, 1003}));
  EXPECT_NE(problem_of([&] { (void)a.find({.bed = 1, .event = 3}); }).find("has no bed"), std::string::npos);
  EXPECT_TRUE(a.find({.strand = "'; drop table record; --"}).empty());
  EXPECT_EQ(a.count(), yard_facts(3, 40).size());
}

TEST_P(ArchiveEngines, EntriesAreAChainThatNobodyElseBreaksUnseen) {
  Archive a{place_};
  a.add(Entry{.kind = EntryKind::remark,
              .at_s = 10,
              .by = "crew lead",
              .bed = 3,
              .words = "wedge replaced: \"A\"\n"});
  a.add(SignOff{3, "engineer", 20, 4, 99, "00ff"});
  a.add(Entry{.kind = EntryKind::disposition,
              .at_s = 30,
              .by = "engineer",
              .device = 1001,
              .bed = 4,
              .sequence = 7,
              .outcome = static_cast<std::uint64_t>(Decision::rejected),
              .words = "slip"});
  const auto all = a.entries();
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(chain_fault(all), "");
  EXPECT_EQ(all[0].previous_hex, std::string(64, '0'));
  EXPECT_EQ(all[2].previous_hex, all[1].digest_hex);
  EXPECT_EQ(a.entries(3).size(), 2U);
  ASSERT_EQ(a.sign_offs(3).size(), 1U);
  EXPECT_EQ(a.sign_offs(3)[0].last_record, 99U);
  EXPECT_EQ(a.sign_offs(3)[0].digest_hex, "00ff");
  for (std::size_t i = 0; i < all.size(); ++i) {
    auto gone = all;
    gone.erase(gone.begin() + static_cast<std::ptrdiff_t>(i));
    // The last one alone can go, without a head held elsewhere.
    EXPECT_EQ(chain_fault(gone), i == 2 ? "" : fmt::format("entry {} is missing", i + 1));
    auto moved = all;
    moved[i].previous_hex = std::string(64, 'f');
    EXPECT_EQ(chain_fault(moved), fmt::format("entry {} does not follow the one before", i + 1));
    for (auto change :
         {+[](Entry& e) { e.words += "."; }, +[](Entry& e) { e.by = "crew"; }, +[](Entry& e) { ++e.at_s; },
          +[](Entry& e) { ++e.device; }, +[](Entry& e) { ++e.bed; }, +[](Entry& e) { ++e.sequence; },
          +[](Entry& e) { ++e.outcome; }, +[](Entry& e) { e.records_digest_hex += "0"; },
          +[](Entry& e) { e.kind = EntryKind::enrolment; }}) {
      auto changed = all;
      change(changed[i]);
      EXPECT_EQ(chain_fault(changed), fmt::format("entry {} was changed", i + 1));
      changed[i].content_hex = content_digest(changed[i]);
      EXPECT_NE(chain_fault(changed), "");
      changed[i].digest_hex = chained(changed[i].previous_hex, changed[i].content_hex);
      EXPECT_EQ(chain_fault(changed) == "", i == 2);
    }
  }
}

TEST_P(ArchiveEngines, TwoWritersMakeOneChainAndNoRecordTwice) {
  { const Archive made{place_}; }
  const auto write = [&](std::uint32_t bed) {
    Archive a{place_, {.busy_timeout_ms = 30000}};
    int added = 0;
    for (std::uint64_t i = 0; i < 20; ++i) {
      a.add(Entry{.by = "crew lead", .bed = bed, .words = "n"});
      added += a.add(some(1 + 5 * i, 10)).added;
    }
    return added;
  };
  auto other = std::async(std::launch::async, write, 2U);
  const int mine = write(1);
  EXPECT_EQ(mine + other.get(), 105);
  const Archive a{place_};
  EXPECT_EQ(a.count(), 105U);
  EXPECT_EQ(a.entries().size(), 40U);
  EXPECT_EQ(chain_fault(a.entries()), "");
}

TEST_P(ArchiveEngines, ABackupAndItsRestoreHoldTheSameToTheDigest) {
  Archive a{place_};
  fill(a, 2, 30);
  const auto whole = digest_of(a);
  EXPECT_GT(whole.rows, 60U);
  const std::string file = folder_ + "/backup.sqlite";
  EXPECT_EQ(back_up(a, file).digest_hex, whole.digest_hex);
  EXPECT_FALSE(std::filesystem::exists(file + "-wal"));
  EXPECT_FALSE(std::filesystem::exists(file + ".part"));
  EXPECT_NE(problem_of([&] { (void)back_up(a, file); }).find("is there already"), std::string::npos);
  a.add(some(1000, 1));
  EXPECT_NE(digest_of(a).digest_hex, whole.digest_hex);
  const std::string before = sha256_hex(read_file(file));
  EXPECT_EQ(restore(file, folder_ + "/restored.sqlite").digest_hex, whole.digest_hex);
  EXPECT_EQ(sha256_hex(read_file(file)), before) << "a restore only reads the backup";
  EXPECT_NE(problem_of([&] { (void)restore(file, place_); }), "no problem") << "over what is there";
  const Archive back{folder_ + "/restored.sqlite"};
  EXPECT_TRUE(self_check(back).faults.empty());
  EXPECT_EQ(back.statistics(1001, 0, INT64_MAX).pulls, a.statistics(1001, 0, INT64_MAX).pulls);
}

TEST_P(ArchiveEngines, AnArchiveHasAnIdentityAndSoHasEachCopyOfIt) {
  Identity first;
  {
    Archive a{place_};
    first = a.identity();
    EXPECT_NE(first.id, 0U);
    EXPECT_EQ(first.name, "");
    a.rename("disk in the safe");
    EXPECT_NE(problem_of([&] { a.rename("twenty-four letters here"); }).find("1 to 23 letters"),
              std::string::npos);
    EXPECT_NE(problem_of([&] { a.rename("a\nb"); }).find("1 to 23 letters"), std::string::npos);
    const auto whole = digest_of(a);
    EXPECT_EQ(back_up(a, folder_ + "/copy.sqlite").digest_hex, whole.digest_hex);
  }
  const Archive again{place_};
  EXPECT_EQ(again.identity().id, first.id);
  EXPECT_EQ(again.identity().name, "disk in the safe");
  EXPECT_NE((Archive{folder_ + "/copy.sqlite"}.identity().id), first.id);
  (void)restore(folder_ + "/copy.sqlite", folder_ + "/restored.sqlite");
  const Archive restored{folder_ + "/restored.sqlite"};
  EXPECT_NE(restored.identity().id, first.id);
  EXPECT_EQ(restored.identity().name, "");
}

std::vector<Row> indexes_of(Store& store) {
  return store.query(
      store.engine() == Engine::sqlite
          ? "select name, sql from sqlite_master where type = 'index' and sql is not null order by rowid"
          : "select indexname, indexdef from pg_indexes where schemaname = current_schema() order by 1",
      2);
}

// What the program of schema 4 made differs by these.
TEST_P(ArchiveEngines, AnArchiveOfSchema4GetsTheIndexesOfThisProgramAndKeepsEveryRow) {
  Copied whole;
  Identity is;
  std::vector<Row> fresh;
  {
    Archive a{place_};
    fill(a, 2, 30);
    whole = digest_of(a);
    is = a.identity();
    fresh = indexes_of(a.store());
    for (const char* statement :
         {"drop index record_detensioned", "drop index record_date", "drop index record_table",
          "create index record_date on record (device, utc_s)",
          "create index record_table on record (device, revision, sequence) where kind = 2",
          "update archive_schema set version = 4"})
      a.store().run(statement);
    EXPECT_NE(indexes_of(a.store()), fresh);
  }
  std::string news;
  const Archive a{place_, {.tell = [&](const std::string& text) { news += text; }}};
  EXPECT_NE(news.find("brought from schema 4 to 5"), std::string::npos) << news;
  EXPECT_EQ(indexes_of(a.store()), fresh);
  EXPECT_EQ(digest_of(a).digest_hex, whole.digest_hex);
  EXPECT_EQ(a.identity().id, is.id) << "it is the copy that the jacks know";
  EXPECT_EQ(std::filesystem::exists(place_ + ".schema-4"), !GetParam());
}

// Against a walk through the log, with clocks that were not set, went back or were set late.
TEST_P(ArchiveEngines, WhatWasMadeBeforeAMomentIsWhatAWalkThroughTheLogFinds) {
  Archive a{place_};
  std::mt19937 random{7};
  std::vector<StoredRecord> log;
  std::vector<std::int64_t> clock;
  for (std::uint64_t n = 1; n <= 60; ++n) {
    clock.push_back(random() % 4 == 0 ? 0 : 1000 + static_cast<std::int64_t>(10 * n + random() % 120));
    YardRecord r{.device = 1001, .sequence = n, .pull = n % 5 == 0, .utc_s = clock.back(), .event = 7};
    log.push_back({1001, 1, n, n, yard_body(r)});
  }
  a.add(log);
  const auto walked = [&](std::uint64_t last, std::int64_t at_s) {
    std::uint64_t proved = 0;
    for (std::uint64_t n = 1; n <= last && n <= clock.size() && clock[n - 1] < at_s; ++n)
      proved = clock[n - 1] > 0 ? n : proved;
    return proved;
  };
  for (std::uint64_t last = 1; last < 70; last += 3) {
    for (std::int64_t at_s = 990; at_s < 1800; at_s += 15)
      ASSERT_EQ(a.made_before(1001, last, at_s), walked(last, at_s)) << last << " " << at_s;
  }
  EXPECT_EQ(a.made_before(1001, 0, 1500), std::nullopt);
  EXPECT_EQ(a.made_before(1002, 50, 1500), std::nullopt);
}

TEST_P(ArchiveEngines, ASignedBedIsKeptForTheMinimumAgeAndThenLeavesItsDigest) {
  Archive a{place_};
  a.add(yard(1, 40));
  const auto pulls = a.find({.bed = 1});
  ASSERT_GE(pulls.size(), 2U);
  const auto attempt = [&](std::int64_t now_s) {
    return problem_of([&] { (void)remove_bed(a, 1, "archive keeper", "end of its time", now_s); });
  };
  EXPECT_NE(attempt(INT32_MAX).find("not signed off"), std::string::npos);
  constexpr std::int64_t signed_s = 1777879800;
  a.add(SignOff{1, "engineer", signed_s, 1, pulls[0].sequence, "00"});
  EXPECT_NE(attempt(INT32_MAX).find("came after its last sign-off"), std::string::npos);
  a.add(SignOff{1, "engineer", signed_s, 2, pulls.back().sequence, "00"});
  const std::int64_t due_s = signed_s + static_cast<std::int64_t>(first_minimum_age_days) * 86400;
  EXPECT_NE(attempt(due_s - 1).find("is kept for 3653 days at least"), std::string::npos);
  EXPECT_NE(problem_of([&] { raise_minimum_age(a, 3653, "owner", 5); }).find("can only be raised"),
            std::string::npos);
  raise_minimum_age(a, 3654, "owner", 5);
  EXPECT_NE(attempt(due_s).find("is kept for 3654 days at least"), std::string::npos);
  EXPECT_EQ(a.find({.bed = 1}).size(), pulls.size());
  const auto entered = remove_bed(a, 1, "archive keeper", "end of its time", due_s + 86400);
  EXPECT_EQ(entered.outcome, pulls.size());
  EXPECT_TRUE(a.find({.bed = 1}).empty());
  EXPECT_EQ(a.count(), yard(1, 40).size() - pulls.size());
  EXPECT_TRUE(self_check(a).faults.empty());
  // Met again on a jack that never freed them, they stay removed; other bytes are refused as ever.
  EXPECT_EQ(a.add(pulls).already_held, static_cast<int>(pulls.size()));
  EXPECT_TRUE(a.find({.bed = 1}).empty());
  auto forged = pulls;
  forged[0].body += "!";
  EXPECT_NE(problem_of([&] { a.add(forged); }).find("other bytes"), std::string::npos);
}

TEST_P(ArchiveEngines, DocumentsAndWhatJacksSaidAreKeptOnce) {
  Archive a{place_};
  const auto digest = a.keep("runs.csv", std::string{"a\0b'\n", 5}, 5);
  EXPECT_EQ(a.keep("other name.csv", std::string{"a\0b'\n", 5}, 6), digest);
  ASSERT_TRUE(a.document(digest));
  EXPECT_EQ(a.document(digest)->text, (std::string{"a\0b'\n", 5}));
  EXPECT_EQ(a.document(digest)->name, "runs.csv");
  EXPECT_FALSE(a.document("00"));
  a.add(JackSeen{1001, 10, "1.0", 1, "1.4", 0, 2, 1});
  a.add(JackSeen{1001, 20, "1.0", 1, "1.4", 0, 2, 1});
  a.add(JackSeen{1001, 30, "1.1", 1, "1.4", 0, 2, 1});
  ASSERT_EQ(a.seen(1001).size(), 2U);
  EXPECT_EQ(a.seen(1001)[1].build, "1.1");
}

// A reader in the middle of its answer, and a writer that would not wait a millisecond for it.
TEST_P(ArchiveEngines, AQueryNeverHoldsUpTheLink) {
  Archive writer{place_, {.busy_timeout_ms = 1}};
  writer.add(some(1, 500));
  const Archive reader{place_};
  std::uint64_t seen = 0, next = 501;
  reader.each({.device = 1001}, [&](const StoredRecord& r) {
    EXPECT_EQ(r.sequence, ++seen);
    if (seen % 50 == 0) {
      EXPECT_EQ(writer.add(some(next, 10)).added, 10);
      next += 10;
    }
  });
  EXPECT_EQ(seen, 500U) << "the answer is of one moment";
  EXPECT_EQ(reader.count(), 600U);
}

INSTANTIATE_TEST_SUITE_P(Both, ArchiveEngines, testing::Bool(),
                         [](const testing::TestParamInfo<bool>& engine) {
                           return std::string{engine.param ? "PostgreSQL" : "SQLite"};
                         });

}  // namespace
}  // namespace strandproof::host::archive
