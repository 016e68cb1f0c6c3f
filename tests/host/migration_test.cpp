// An archive of each schema that main ever had is copied and brought to the newest; whatever stops that
// leaves it as it was.
#include <sys/wait.h>

#include <vector>

#include "host-tool/base/files.hpp"
#include "tests/host/archive_fixture.hpp"

namespace strandproof::host::archive {
namespace {

// What the program of schema 1 wrote, statement by statement: kept here, so that it can not change with the
// code.
constexpr const char* made_by_schema_1 =
    "create table archive_schema (version integer not null);"
    "create table record (device bigint not null, boot bigint not null, sequence bigint not null, "
    "tick_ms bigint not null, body_hex text not null, primary key (device, boot, sequence));"
    "create table instruction (device bigint not null, id bigint not null, bed bigint not null, "
    "position bigint not null, body_hex text not null, sent_s bigint not null, primary key (device, id));"
    "create table gauge_table (device bigint not null, revision bigint not null, sha256 text not null, "
    "json text not null, loaded_s bigint not null, primary key (device, revision));"
    "insert into archive_schema (version) values (1);"
    "insert into record values (1001, 7, 1, 10, '00ff41');"
    "insert into record values (1001, 7, 2, 20, '00ff42');"
    "insert into instruction values (1001, 1, 3, 2, '616263', 1777879800);"
    "insert into gauge_table values (1001, 2, '00fe', '{\"b\":2}', 1777879900);"
    "insert into gauge_table values (1001, 1, '00ff', '{\"a\":1}', 1777879800);";

// What the program of schema 2 made on top of it, and one row of each of its tables.
constexpr const char* made_by_schema_2 =
    "create table history (id integer primary key, device bigint not null, act bigint not null, "
    "at_s bigint not null, by_role text not null, why text not null, revision bigint not null, "
    "sha256 text not null, key_fingerprint text not null, last_record bigint not null, "
    "outcome bigint not null, details text not null);"
    "create table sign_off (id integer primary key, bed bigint not null, by_role text not null, "
    "at_s bigint not null, pulls bigint not null, last_record bigint not null, digest text not null);"
    "insert into history values (4, 1001, 3, 1777880000, 'technician', 'dropped', 2, '00fe', 'ab', 2, 4, "
    "'d');"
    "insert into sign_off values (1, 3, 'engineer', 1777890000, 2, 2, 'aa');"
    "insert into sign_off values (2, 4, 'quality control', 1777890001, 5, 2, 'bb');"
    "create trigger record_stays before update on record begin select raise(abort, 'append only'); end;"
    "create trigger record_kept before delete on record begin select raise(abort, 'append only'); end;"
    "create trigger history_stays before update on history begin select raise(abort, 'append only'); end;"
    "create trigger sign_off_kept before delete on sign_off begin select raise(abort, 'append only'); end;"
    "update archive_schema set version = 2;";

class MigrationTest : public ArchiveTest {
 protected:
  void SetUp() override {
    ArchiveTest::SetUp();
    sql(made_by_schema_1);
  }
};

void expect_what_schema_1_held(const Archive& a) {
  ASSERT_EQ(a.records(1001).size(), 2U);
  EXPECT_EQ(a.records(1001)[1].body, std::string("\x00\xff\x42", 3));
  ASSERT_EQ(a.instructions(3).size(), 1U);
  EXPECT_EQ(a.instructions(3)[0].body, "abc");
  ASSERT_TRUE(a.table(1001, 2));
  EXPECT_EQ(a.table(1001, 2)->json, "{\"b\":2}");
}

TEST_F(MigrationTest, AllThatSchema1HeldIsThereAndTheLoadsAreInTheHistory) {
  std::vector<std::string> news;
  {
    const Archive a{path_, {.tell = [&](const std::string& text) { news.push_back(text); }}};
    expect_what_schema_1_held(a);
    const auto history = a.history(1001);
    ASSERT_EQ(history.size(), 2U);
    EXPECT_EQ(history[0].revision, 1U);
    EXPECT_EQ(history[0].at_s, 1777879800);
    EXPECT_EQ(history[0].by, "not recorded");
    EXPECT_EQ(history[1].revision, 2U);
    EXPECT_EQ(history[1].sha256_hex, "00fe");
  }
  ASSERT_EQ(news.size(), 1U);
  EXPECT_EQ(news[0],
            "archive " + path_ + ": brought from schema 1 to 5; as it was before: " + path_ + ".schema-1");
  EXPECT_EQ(value(path_, "select version from archive_schema"), "5");
  const Archive again{path_};
  expect_what_schema_1_held(again);
  EXPECT_FALSE(std::filesystem::exists(path_ + ".schema-1-2")) << "migrated twice";
}

TEST_F(MigrationTest, TheCopyIsWholeAndOfSchema1) {
  { const Archive a{path_}; }
  const std::string copy = path_ + ".schema-1";
  EXPECT_EQ(value(copy, "pragma integrity_check"), "ok");
  EXPECT_EQ(value(copy, "select version from archive_schema"), "1");
  EXPECT_EQ(value(copy, "select group_concat(body_hex) from record"), "00ff41,00ff42");
  EXPECT_EQ(value(copy, "select count(*) from gauge_table"), "2");
  EXPECT_EQ(value(copy, "select count(*) from sqlite_master where name = 'history'"), "0");
}

TEST_F(MigrationTest, ACopyOfEarlierIsNotWrittenOver) {
  write_file(path_ + ".schema-1", "of earlier");
  { const Archive a{path_}; }
  EXPECT_EQ(read_file(path_ + ".schema-1"), "of earlier");
  EXPECT_EQ(value(path_ + ".schema-1-2", "select version from archive_schema"), "1");
}

TEST_F(MigrationTest, AFullArchiveStaysAsItWas) {
  const auto message = problem_of([&] { const Archive a{path_, {.page_limit = 8}}; });
  EXPECT_NE(message.find("the disk is full"), std::string::npos) << message;
  EXPECT_EQ(value(path_, "select version from archive_schema"), "1");
  EXPECT_EQ(value(path_, "select count(*) from sqlite_master where name = 'history'"), "0");
  expect_what_schema_1_held(Archive{path_});
}

TEST_F(MigrationTest, TwoProgramsAtOnceMigrateOnce) {
  const pid_t child = fork();
  if (child == 0) {
    try {
      const Archive a{path_};
      _exit(a.history(1001).size() == 2 ? 0 : 1);
    } catch (...) {
      _exit(2);
    }
  }
  const Archive a{path_};
  EXPECT_EQ(a.history(1001).size(), 2U);
  int status = -1;
  ASSERT_EQ(waitpid(child, &status, 0), child);
  EXPECT_EQ(WIFEXITED(status) ? WEXITSTATUS(status) : -1, 0);
  EXPECT_EQ(value(path_, "select count(*) from history"), "2");
}

TEST_F(MigrationTest, AllThatSchema2HeldIsThereAndItsSignOffsBeginTheChain) {
  sql(made_by_schema_2);
  Archive a{path_};
  expect_what_schema_1_held(a);
  ASSERT_EQ(a.history(1001).size(), 1U);
  EXPECT_EQ(a.history(1001)[0].act, Act::withdrawn);
  EXPECT_EQ(a.history(1001)[0].why, "dropped");
  EXPECT_EQ(a.history(1001)[0].details, "d");
  const auto entries = a.entries();
  ASSERT_EQ(entries.size(), 2U);
  EXPECT_EQ(chain_fault(entries), "");
  EXPECT_EQ(entries[1].by, "quality control");
  ASSERT_EQ(a.sign_offs(3).size(), 1U);
  EXPECT_EQ(a.sign_offs(3)[0].at_s, 1777890000);
  EXPECT_EQ(a.sign_offs(3)[0].digest_hex, "aa");
  EXPECT_EQ(value(path_ + ".schema-2", "select count(*) from sign_off"), "2");
  EXPECT_EQ(value(path_, "select count(*) from sqlite_master where name like 'old%' or name = 'sign_off'"),
            "0");
  EXPECT_EQ(said_to("update record set tick_ms = 1"), "append only");
  a.add({1001, Act::loaded, 5, "", "", 2, "00ff", "", 0, 0, ""});
  EXPECT_EQ(a.history(1001).back().at_s, 5) << "numbers go on after those that were there";
}

// What the program of schema 3 made is what this one makes, but for the identity.
TEST_F(MigrationTest, Schema3GetsAnIdentityAndKeepsEveryRow) {
  std::filesystem::remove(path_);
  {
    Archive a{path_};
    a.add(some(1, 3));
    a.add(Entry{.kind = EntryKind::remark, .at_s = 5, .by = "foreman", .words = "dry"});
  }
  sql("drop table archive_identity; update archive_schema set version = 3");
  Archive a{path_};
  EXPECT_EQ(value(path_, "select version from archive_schema"), "5");
  EXPECT_NE(a.identity().id, 0U);
  EXPECT_EQ(a.records().size(), 3U);
  EXPECT_EQ(chain_fault(a.entries()), "");
  EXPECT_EQ(value(path_ + ".schema-3", "select version from archive_schema"), "3");
  EXPECT_EQ(said_to("update record set tick_ms = 1"), "append only");
}

}  // namespace
}  // namespace strandproof::host::archive
