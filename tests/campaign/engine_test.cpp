// Threads, stops and failures change no byte of the results.
#include "sim/campaign/engine.hpp"

#include <gtest/gtest.h>
#include <sys/resource.h>

#include <csignal>
#include <stdexcept>
#include <thread>

#include "tests/campaign/support.hpp"

namespace strandproof::sim {
namespace {

class EngineTest : public test::FolderTest {
 protected:
  Campaign campaign_ = parse_campaign(test::small, "small.toml");

  std::string run(const std::string& name, unsigned threads, const OnePull& one = test::toy) {
    RunOptions o;
    o.threads = threads;
    o.results = folder_ + "/" + name;
    EXPECT_TRUE(run_campaign(campaign_, o, one));
    return test::text_of(folder_ + "/" + name);
  }
};

TEST_F(EngineTest, TheSameBytesOnAnyNumberOfThreads) {
  const std::string expected = run("one.csv", 1);
  EXPECT_EQ(std::count(expected.begin(), expected.end(), '\n'), 202);
  EXPECT_EQ(run("two.csv", 2), expected);
  EXPECT_EQ(run("seven.csv", 7), expected);
}

// The first pull takes longest: the others wait behind it and none is lost.
TEST_F(EngineTest, ASlowPullHoldsNothingBackForGood) {
  const std::string expected = run("one.csv", 1);
  const auto first = drawn(campaign_, 0).seed;
  EXPECT_EQ(run("slow.csv", 3,
                [&](const Scenario& s) {
                  if (s.seed == first) {
                    std::this_thread::yield();
                  }
                  return test::toy(s);
                }),
            expected);
}

// On one thread exactly what had begun is there; on two another pull may have begun before the stop is seen.
TEST_F(EngineTest, StoppedAnywhereItGoesOnToTheSameBytes) {
  const std::string expected = run("whole.csv", 1);
  for (const unsigned threads : {1U, 2U}) {
    for (const int after : {0, 1, 17, 150, 199}) {
      std::filesystem::remove(folder_ + "/part.csv");
      std::atomic<bool> stop{after == 0};
      std::atomic<int> begun{0};
      RunOptions o;
      o.threads = threads;
      o.results = folder_ + "/part.csv";
      o.stop = &stop;
      const bool complete = run_campaign(campaign_, o, [&](const Scenario& s) {
        stop = ++begun >= after;
        return test::toy(s);
      });
      const std::string part = test::text_of(o.results);
      EXPECT_TRUE(expected.starts_with(part)) << after;
      EXPECT_EQ(complete, part == expected) << after;
      if (threads == 1) {
        EXPECT_EQ(std::count(part.begin(), part.end(), '\n'), 2 + after);
      }
      o.stop = nullptr;
      std::uint32_t told = 0;
      o.progress = [&](const Progress& p) { told = p.done; };
      EXPECT_TRUE(run_campaign(campaign_, o, test::toy));
      EXPECT_EQ(told, 200U);
      EXPECT_EQ(test::text_of(o.results), expected) << after;
    }
  }
}

TEST_F(EngineTest, APullThatThrowsIsAFailureOfItsOwn) {
  const std::string text = run("thrown.csv", 2, [&](const Scenario& s) {
    if (s.seed == drawn(campaign_, 5).seed) {
      throw std::runtime_error("rig: no oil");
    }
    return test::toy(s);
  });
  test::expect_part(text, "\n5,0,0,-1,,-1,,rig: no oil,");
  test::expect_part(text, "\n199,");
}

// A limit of the system stands for a disk without room.
TEST_F(EngineTest, AFullDiskEndsItWithAWordAndItGoesOnWhenThereIsRoom) {
  const std::string expected = run("whole.csv", 1);
  RunOptions o;
  o.threads = 2;
  o.results = folder_ + "/full.csv";
  std::signal(SIGXFSZ, SIG_IGN);
  rlimit before{};
  ASSERT_EQ(getrlimit(RLIMIT_FSIZE, &before), 0);
  const rlimit small{4096, before.rlim_max};
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &small), 0);
  const std::string said = test::problem_of([&] { (void)run_campaign(campaign_, o, test::toy); });
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &before), 0);
  test::expect_part(said, "full.csv: not all could be written; make room");
  EXPECT_TRUE(run_campaign(campaign_, o, test::toy));
  EXPECT_EQ(test::text_of(o.results), expected);
  o.results = "/dev/full";
  test::expect_part(test::problem_of([&] { (void)run_campaign(campaign_, o, test::toy); }),
                    "is no plain file");
}

}  // namespace
}  // namespace strandproof::sim
