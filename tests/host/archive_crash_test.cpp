// The host's power is lost at every step that SQLite asks of the disk, in four models of what survives; the
// disk is full from each step on; a sync fails, once or for ever, and drops what it was for. Confirmed is
// what the archive returned.
#include <fmt/core.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <memory>

#include "host-tool/archive/entries.hpp"
#include "host-tool/archive/self_check.hpp"
#include "tests/host/archive_fixture.hpp"
#include "tests/host/crash_disk.hpp"

namespace strandproof::host::archive {
namespace {

constexpr int batches = 6;
constexpr int a_batch = 40;

// A host's work in two sessions, so that the log is also taken over into the file between them.
struct Work {
  int confirmed = 0;  // batches
  std::size_t entries = 0;
  bool failed = false;
  bool dies = false;                // at its first failure, with the archive open
  std::shared_ptr<Archive> left{};  // by a program that died

  void run(const std::string& path) {
    failed = false;
    try {
      while (confirmed < batches || entries < batches) session(path);
    } catch (const Problem&) {
      failed = true;
    }
  }

 private:
  void session(const std::string& path) {
    const auto opened = std::make_shared<Archive>(path);
    if (dies) left = opened;
    Archive& a = *opened;
    // What was confirmed is not entered again; what was not is looked for first, as a person would.
    entries = std::max(entries, a.entries().size());
    for (int b = 0; b < batches / 2; ++b) {
      for (; entries < static_cast<std::size_t>(confirmed); ++entries)
        a.add(Entry{.by = "crew lead", .words = "n"});
      if (confirmed == batches) return;
      (void)a.add(some(static_cast<std::uint64_t>(confirmed * a_batch + 1), a_batch));
      ++confirmed;
    }
  }
};

struct Count {
  int runs = 0, images = 0, lost = 0, invented = 0, doubled = 0, broken = 0;
};

// Bodies in their order, each once, from 1 on.
void judge(const Archive& a, int confirmed, std::size_t entries, Count& count) {
  const auto held = a.records();
  const auto expected = some(1, static_cast<int>(held.size()));
  for (std::size_t i = 0; i < held.size(); ++i) {
    if (held[i].sequence != expected[i].sequence || held[i].body != expected[i].body) ++count.invented;
  }
  if (held.size() < static_cast<std::size_t>(confirmed * a_batch)) ++count.lost;
  if (held.size() > static_cast<std::size_t>((confirmed + 1) * a_batch)) ++count.doubled;
  const auto all = a.entries();
  if (all.size() < entries) ++count.lost;
  if (all.size() > entries + 1) ++count.doubled;
  if (!self_check(a).faults.empty()) ++count.broken;
}

class ArchiveCrash : public testing::Test {
 protected:
  void SetUp() override {
    // Memory: what is durable is the model's matter, and the disk would only be slow.
    std::string folder = std::filesystem::exists("/dev/shm") ? "/dev/shm/crash.XXXXXX" : "/tmp/crash.XXXXXX";
    ASSERT_NE(mkdtemp(folder.data()), nullptr);
    folder_ = folder;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  [[nodiscard]] std::string fresh() {
    std::filesystem::remove_all(folder_ + "/run");
    std::filesystem::create_directories(folder_ + "/run");
    return folder_ + "/run/archive.sqlite";
  }
  // Opens what the power left, judges it, does the work to its end and judges that.
  void recover(const std::string& folder, const Work& work, Count& count) {
    ++count.images;
    const Count before = count;
    try {
      judge_and_go_on(folder + "/archive.sqlite", work, count);
    } catch (const Problem& p) {
      ++count.broken;
      std::printf("not opened: %s\n", p.what());
    }
    if (count.lost != before.lost || count.broken != before.broken)
      std::printf("%s: %d batches were confirmed\n", folder.c_str(), work.confirmed);
    std::filesystem::remove_all(folder);
  }
  [[nodiscard]] std::string image_of(Survives model) const {
    return fmt::format("{}/image-{}", folder_, static_cast<int>(model));
  }
  // What each kind of loss leaves of the disk as it is now.
  void write_images(const CrashDisk& disk, int seed) const {
    for (const auto model : every_model) disk.image(image_of(model), model, static_cast<std::uint64_t>(seed));
  }
  void recover_images(const Work& work, Count& count) {
    for (const auto model : every_model) recover(image_of(model), work, count);
  }
  void judge_and_go_on(const std::string& path, Work work, Count& count) {
    {
      const Archive a{path};
      judge(a, work.confirmed, work.entries, count);
    }
    work.run(path);
    const Archive a{path};
    judge(a, batches, batches, count);
    if (work.failed) ++count.broken;
    if (a.count() != static_cast<std::uint64_t>(batches * a_batch)) ++count.doubled;
  }
  // The whole work without a fault: how many steps there are.
  int steps() {
    CrashDisk disk;
    Work work;
    work.run(fresh());
    EXPECT_FALSE(work.failed);
    return disk.steps();
  }
  int syncs() {
    CrashDisk disk;
    Work work;
    work.run(fresh());
    EXPECT_FALSE(work.failed);
    return disk.syncs();
  }
  static void expect_good(const char* what, int steps, const Count& c) {
    std::printf("%s: steps %d, runs %d, images %d, lost %d, invented %d, doubled %d, broken %d\n", what,
                steps, c.runs, c.images, c.lost, c.invented, c.doubled, c.broken);
    EXPECT_EQ(c.lost, 0);
    EXPECT_EQ(c.invented, 0);
    EXPECT_EQ(c.doubled, 0);
    EXPECT_EQ(c.broken, 0);
  }
  std::string folder_;
};

// The model itself: work that was not disturbed is all there, whatever survives of what was not synced.
TEST_F(ArchiveCrash, WithoutAFaultEverythingIsDurable) {
  for (const auto model : every_model) {
    Count count;
    Work work;
    {
      CrashDisk disk;
      work.run(fresh());
      disk.image(folder_ + "/image", model, 1);
    }
    EXPECT_FALSE(work.failed);
    EXPECT_EQ(work.confirmed, batches);
    recover(folder_ + "/image", work, count);
    expect_good("no fault", 0, count);
  }
}

TEST_F(ArchiveCrash, ThePowerLostAtEveryStep) {
  const int all = steps();
  Count count;
  for (int at = 1; at <= all; ++at) {
    Work work;
    {
      CrashDisk disk;
      disk.fail(Fault::crash, at);
      work.run(fresh());
      ++count.runs;
      ASSERT_TRUE(disk.has_failed());
      write_images(disk, at);
    }
    recover_images(work, count);
  }
  expect_good("power lost", all, count);
  EXPECT_GT(all, 100);
  EXPECT_EQ(count.images, 4 * all);
}

TEST_F(ArchiveCrash, TheDiskFullFromEveryStepOn) {
  const int all = steps();
  Count count;
  int reported = 0;
  for (int at = 1; at <= all; ++at) {
    CrashDisk disk;
    disk.fail(Fault::full, at);
    Work work;
    const auto path = fresh();
    work.run(path);
    ++count.runs;
    reported += work.failed ? 1 : 0;
    disk.mend();
    work.run(path);
    EXPECT_FALSE(work.failed) << "step " << at;
    const auto image = folder_ + "/image";
    disk.image(image, Survives::none, static_cast<std::uint64_t>(at));
    sqlite3_vfs_register(sqlite3_vfs_find("unix"), 1);
    recover(image, work, count);
  }
  std::printf("full disks that the archive reported: %d of %d runs\n", reported, count.runs);
  expect_good("full disk", all, count);
  EXPECT_GT(reported, 20);
}

// After the error the host goes on as people do: it opens the archive again and enters the rest. Then the
// power is lost.
TEST_F(ArchiveCrash, ASyncFailsOnceOrForEver) {
  const int all = syncs();
  Count count;
  int reported = 0;
  for (const auto fault : {Fault::one_sync, Fault::syncs}) {
    for (int at = 1; at <= all; ++at) {
      for (const bool some_reached : {false, true}) {
        Work work;
        const auto path = fresh();
        {
          CrashDisk disk;
          disk.fail(fault, at, some_reached);
          for (int tries = 0; tries < 3; ++tries) {
            work.run(path);
            reported += work.failed ? 1 : 0;
          }
          ++count.runs;
          ASSERT_TRUE(disk.has_failed());
          write_images(disk, at);
        }
        recover_images(work, count);
      }
    }
  }
  std::printf("failed syncs that the archive reported: %d\n", reported);
  expect_good("failed sync", all, count);
  EXPECT_GT(all, 20);
  EXPECT_GT(reported, 100);
}

// The power is lost once more while the archive is written anew after a failed sync, with the mark of the
// doubt or without it.
TEST_F(ArchiveCrash, ThePowerLostWhileAFailedSyncIsMended) {
  constexpr int steps_of_mending = 12;
  const int all = syncs();
  Count count;
  for (int at = 1; at <= all; ++at) {
    for (int step = 1; step <= steps_of_mending; ++step) {
      Work work;
      const auto path = fresh();
      bool marked = false;
      {
        CrashDisk disk;
        disk.fail(Fault::one_sync, at, at % 2 == 0);
        work.run(path);
        disk.fail(Fault::crash, disk.steps() + step);
        work.run(path);
        ++count.runs;
        marked = std::filesystem::exists(path + ".doubtful");
        for (const auto model : {Survives::none, Survives::some_sectors})
          disk.image(fmt::format("{}/image-{}", folder_, static_cast<int>(model)), model,
                     static_cast<std::uint64_t>(at * steps_of_mending + step));
      }
      if (marked) std::ofstream{folder_ + "/image-0/archive.sqlite.doubtful"};
      for (const auto model : {Survives::none, Survives::some_sectors})
        recover(fmt::format("{}/image-{}", folder_, static_cast<int>(model)), work, count);
    }
  }
  expect_good("power lost after a failed sync", all * steps_of_mending, count);
}

// The program dies with the archive open, so nothing is carried over at a close: the log still reads back,
// and the disk has dropped it. The next program goes on from what reads back, and then the power is lost.
TEST_F(ArchiveCrash, WhatADeadProgramLeftBehindAFailedSyncIsWrittenAnew) {
  constexpr int steps_of_going_on = 240;  // beyond the first batch that is confirmed anew
  const int all = syncs();
  Count count;
  for (int at = 1; at <= all; ++at) {
    for (int step = 16; step <= steps_of_going_on; step += 16) {
      const auto path = fresh();
      const std::string again = folder_ + "/again";
      Work work{.dies = true};
      {
        CrashDisk disk;
        disk.fail(Fault::one_sync, at);
        work.run(path);
        std::filesystem::remove_all(again);  // the same names: to the disk it is the same file
        std::filesystem::copy(folder_ + "/run", again);
        std::filesystem::remove(again + "/archive.sqlite-shm");
        Work next{.confirmed = work.confirmed, .entries = work.entries};
        disk.fail(Fault::crash, disk.steps() + step);
        next.run(again + "/archive.sqlite");
        ++count.runs;
        disk.image(image_of(Survives::none), Survives::none, static_cast<std::uint64_t>(at));
        work.left.reset();  // while its disk is still there
        work = next;
      }
      recover(image_of(Survives::none), work, count);
    }
  }
  expect_good("power lost after a dead program", all * steps_of_going_on / 16, count);
}

}  // namespace
}  // namespace strandproof::host::archive
