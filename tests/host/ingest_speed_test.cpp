// 50,000 records a second into the archive, with every index and the identity check: of the time that the
// thread itself has used, so that a machine at work on other things does not decide. What the disk adds is
// measured by tests/bench/archive_bench.cpp.
#include <gtest/gtest.h>

#include <cstdio>
#include <ctime>

#include "tests/bench/archive_load.hpp"
#include "tests/folder_test.hpp"

namespace strandproof::host::archive {
namespace {

constexpr std::size_t count = 20'000;
constexpr double least_a_second = 50'000.0;

double thread_seconds() {
  timespec used{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &used);
  return static_cast<double>(used.tv_sec) + 1e-9 * static_cast<double>(used.tv_nsec);
}

using IngestSpeed = strandproof::test::FolderTest;

TEST_F(IngestSpeed, FiftyThousandRecordsASecondNewOnesAndThoseThatComeAgain) {
  bench::JackYears jack{1001, 1};
  std::vector<StoredRecord> some;
  for (std::size_t i = 0; i < count; ++i) some.push_back(jack.next());
  Archive kept{folder_ + "/archive.sqlite"};
  const double begun = thread_seconds();
  EXPECT_EQ(kept.add(some).added, static_cast<int>(count));
  const double added = thread_seconds();
  EXPECT_EQ(kept.add(some).already_held, static_cast<int>(count));
  const double compared = thread_seconds();
  const double new_a_second = static_cast<double>(count) / (added - begun);
  const double again_a_second = static_cast<double>(count) / (compared - added);
  std::printf("%.0f new records and %.0f met again a second of the thread\n", new_a_second, again_a_second);
  EXPECT_GE(new_a_second, least_a_second);
  EXPECT_GE(again_a_second, least_a_second);
}

}  // namespace
}  // namespace strandproof::host::archive
