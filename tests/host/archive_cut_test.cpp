// The connection to PostgreSQL is cut at every piece that either side sends, and the server loses its power:
// nothing that was confirmed is lost, nothing is there twice, and what a refusal says of the archive is true.
#include <gtest/gtest.h>

#include <cstdio>
#include <filesystem>

#include "host-tool/archive/entries.hpp"
#include "host-tool/archive/self_check.hpp"
#include "tests/host/archive_fixture.hpp"
#include "tests/host/cutting_proxy.hpp"
#include "tests/host/postgres_server.hpp"

namespace strandproof::host::archive {
namespace {

std::vector<StoredRecord> of_jack(std::uint32_t device, std::uint64_t first, int count) {
  auto records = some(first, count);
  for (auto& r : records) r.device = device;
  return records;
}

constexpr int batches = 3;
constexpr int a_batch = 4;

// What a host does, batch after batch; the next overlaps the one before by a record, as a fetch does.
struct Host {
  std::uint32_t device;
  int confirmed = 0;  // batches
  bool entered = false;
  std::string said{};

  void work(const std::string& url) {
    try {
      Archive a{url};
      for (int b = confirmed; b < batches; ++b) {
        const auto first = static_cast<std::uint64_t>(b * a_batch) + (b == 0 ? 1 : 0);
        (void)a.add(of_jack(device, first, a_batch + (b == 0 ? 0 : 1)));
        confirmed = b + 1;
      }
      if (!entered) a.add(Entry{.by = "crew lead", .device = device, .words = "n"});
      entered = true;
      said.clear();
    } catch (const Problem& p) {
      said = p.what();
    }
  }
};

int entries_of(const Archive& a, std::uint32_t device) {
  int count = 0;
  for (const auto& e : a.entries()) count += e.device == device ? 1 : 0;
  return count;
}

struct Count {
  int cuts = 0, in_commit = 0, lost = 0, doubled = 0, untrue = 0;
};

void judge(const Archive& direct, const Host& host, Count& count) {
  const auto held = direct.records(host.device);
  if (static_cast<int>(held.size()) < host.confirmed * a_batch) ++count.lost;
  const int entered = entries_of(direct, host.device);
  if (host.entered && entered != 1) ++count.lost;
  const bool unknown = host.said.find("is not known") != std::string::npos;
  count.in_commit += unknown ? 1 : 0;
  // "Nothing has been changed" is about the step that failed.
  const bool more =
      static_cast<int>(held.size()) > host.confirmed * a_batch || (!host.entered && entered > 0);
  if (!unknown && more) ++count.untrue;
}

TEST(ArchiveCut, TheConnectionCutAtEveryPiece) {
  PostgresServer server;
  { const Archive made{server.url()}; }
  const Archive direct{server.url()};
  Count count;
  for (int cut_at = 1;; ++cut_at) {
    Host host{static_cast<std::uint32_t>(2000 + cut_at)};
    CuttingProxy proxy{server.socket(), server.folder() + "/proxy", cut_at};
    host.work(server.url(proxy.folder()));
    if (!proxy.has_cut()) {
      EXPECT_EQ(host.said, "");
      break;
    }
    ++count.cuts;
    judge(direct, host, count);
    if (entries_of(direct, host.device) != 0) host.entered = true;  // a person looks before doing it again
    host.work(server.url());
    EXPECT_EQ(host.said, "") << "cut " << cut_at;
    const auto held = direct.records(host.device);
    if (static_cast<int>(held.size()) < batches * a_batch) ++count.lost;
    if (static_cast<int>(held.size()) > batches * a_batch || entries_of(direct, host.device) > 1)
      ++count.doubled;
  }
  std::printf("cuts %d, with a commit's answer lost %d, lost %d, doubled %d, untrue refusals %d\n",
              count.cuts, count.in_commit, count.lost, count.doubled, count.untrue);
  EXPECT_GT(count.cuts, 100);
  EXPECT_GE(count.in_commit, batches + 1) << "each commit's answer was lost once at least";
  EXPECT_EQ(count.lost, 0);
  EXPECT_EQ(count.doubled, 0);
  EXPECT_EQ(count.untrue, 0);
  EXPECT_EQ(chain_fault(direct.entries()), "");
}

TEST(ArchiveCut, TheServersPowerIsLost) {
  PostgresServer server;
  int confirmed = 0;
  for (int round = 0; round < 3; ++round) {
    {
      Archive a{server.url()};
      for (int b = 0; b < 5; ++b, ++confirmed)
        a.add(some(static_cast<std::uint64_t>(confirmed * 10 + 1), 10));
    }
    server.crash();
    server.start();
    const Archive again{server.url()};
    EXPECT_EQ(again.count(), static_cast<std::uint64_t>(10 * confirmed));
    EXPECT_TRUE(self_check(again).faults.empty());
  }
}

TEST(ArchiveCut, AServerThatConfirmsTooEarlyIsRefused) {
  for (const std::string setting :
       {"synchronous_commit = off", "synchronous_commit = local", "fsync = off", "full_page_writes = off"}) {
    const PostgresServer server{{setting}};
    const auto said = problem_of([&] { const Archive a{server.url()}; });
    EXPECT_NE(said.find("the server has " + setting), std::string::npos) << said;
    EXPECT_EQ(server.value("select count(*) from information_schema.tables where table_schema = 'public'"),
              "0");
  }
  const PostgresServer good{{"synchronous_commit = remote_write"}};
  EXPECT_EQ(problem_of([&] { const Archive a{good.url()}; }), "no problem");
}

TEST(ArchiveCut, AnotherDatabaseAnAbsentServerAndATriggerSaySoInOneLine) {
  PostgresServer server;
  EXPECT_EQ(server.value("create table other (x int)"), "");
  EXPECT_NE(problem_of([&] { const Archive a{server.url()}; }).find("holds other tables than ours"),
            std::string::npos);
  EXPECT_EQ(server.value("drop table other"), "");
  {
    Archive a{server.url()};
    a.add(some(1, 2));
  }
  EXPECT_NE(server.value("update record set boot = 9").find("append only"), std::string::npos);
  EXPECT_NE(server.value("delete from record").find("append only"), std::string::npos);
  EXPECT_EQ(server.value("update archive_schema set version = 9"), "");
  EXPECT_NE(problem_of([&] { const Archive a{server.url()}; }).find("made by a newer strandproof"),
            std::string::npos);
  const auto said =
      problem_of([&] { const Archive a{"postgresql://yard:secret@/postgres?host=/nonexistent"}; });
  EXPECT_NE(said.find("archive postgresql:///postgres: "), std::string::npos) << said;
  EXPECT_EQ(said.find("secret"), std::string::npos);
  EXPECT_EQ(said.find('\n'), std::string::npos);
}

}  // namespace
}  // namespace strandproof::host::archive
