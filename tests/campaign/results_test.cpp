// The file of results: in order, gone on with, merged to the same bytes.
#include "sim/campaign/results.hpp"

#include <gtest/gtest.h>

#include "tests/campaign/support.hpp"

namespace strandproof::sim {
namespace {

class ResultsTest : public test::FolderTest {
 protected:
  Campaign campaign_ = parse_campaign(test::small, "small.toml");

  void SetUp() override {
    FolderTest::SetUp();
    campaign_.pulls = 11;
  }
  Outcome outcome(std::uint32_t pull) const {
    Outcome o = test::toy(drawn(campaign_, pull));
    o.pull = pull;
    return o;
  }
  std::string whole() {
    Results r(folder_ + "/whole.csv", campaign_, {});
    for (std::uint32_t i = 0; i < 11; ++i) {
      r.add(outcome(i));
    }
    r.close();
    return test::text_of(folder_ + "/whole.csv");
  }
};

TEST_F(ResultsTest, ALineComesBackAsItWas) {
  Outcome o = outcome(3);
  o.stop_error = 0.1 + 0.2;
  o.cause = 14;
  o.cause_s = 1.0 / 3.0;
  o.failure = "a, b\nc";
  const auto back = from_line(to_line(o));
  ASSERT_TRUE(back);
  EXPECT_EQ(to_line(*back), to_line(o));
  EXPECT_EQ(back->stop_error, 0.1 + 0.2);
  EXPECT_EQ(back->failure, "a  b c");
  EXPECT_FALSE(from_line("3,1,0"));
  EXPECT_FALSE(from_line(to_line(o) + ",1"));
  EXPECT_FALSE(from_line(to_line(o).substr(1)));
}

TEST_F(ResultsTest, OrderOfArrivalDoesNotMatter) {
  const std::string expected = whole();
  Results r(folder_ + "/other.csv", campaign_, {});
  for (const std::uint32_t i : {4U, 0U, 1U, 10U, 3U, 2U, 9U, 8U, 7U, 6U, 5U}) {
    r.add(outcome(i));
  }
  EXPECT_EQ(r.waiting(), 0U);
  r.close();
  EXPECT_EQ(test::text_of(folder_ + "/other.csv"), expected);
}

// Cut at every byte, it is gone on with to the same bytes.
TEST_F(ResultsTest, WhatWasCutOffIsGoneOnWith) {
  const std::string expected = whole();
  const std::string path = folder_ + "/cut.csv";
  for (std::size_t kept = 0; kept <= expected.size(); ++kept) {
    std::ofstream(path, std::ios::binary) << expected.substr(0, kept);
    Results r(path, campaign_, {});
    for (std::uint32_t i = r.next(); i < 11; ++i) {
      r.add(outcome(i));
    }
    r.close();
    ASSERT_EQ(test::text_of(path), expected) << "cut at byte " << kept;
  }
}

TEST_F(ResultsTest, ShardsMergeToTheSameBytes) {
  const std::string expected = whole();
  for (const std::uint32_t count : {1U, 2U, 3U, 4U}) {
    std::vector<std::string> files;
    for (std::uint32_t s = 0; s < count; ++s) {
      files.push_back(folder_ + "/shard" + std::to_string(s) + "of" + std::to_string(count));
      Results r(files.back(), campaign_, {s, count});
      for (std::uint32_t i = s; i < 11; i += count) {
        r.add(outcome(i));
      }
      r.close();
    }
    merge_results(files, folder_ + "/merged.csv", campaign_);
    EXPECT_EQ(test::text_of(folder_ + "/merged.csv"), expected) << count;
  }
}

TEST_F(ResultsTest, WhatDoesNotBelongTogetherIsRefused) {
  (void)whole();
  Campaign other = campaign_;
  set_size(other, 11, 99);
  test::expect_part(test::problem_of([&] { Results r(folder_ + "/whole.csv", other, {}); }),
                    "another campaign");
  test::expect_part(test::problem_of([&] {
                      Results r(folder_ + "/whole.csv", campaign_, {0, 2});
                    }),
                    "another campaign, size or shard");
  test::expect_part(test::problem_of([&] { Results r("/nowhere/x.csv", campaign_, {}); }),
                    "can not be written");
  {
    Results half(folder_ + "/half.csv", campaign_, {0, 2});
    half.add(outcome(0));
    half.close();
    Results rest(folder_ + "/rest.csv", campaign_, {1, 2});
    for (std::uint32_t i = 1; i < 11; i += 2) {
      rest.add(outcome(i));
    }
    rest.close();
  }
  test::expect_part(
      test::problem_of([&] {
        merge_results({folder_ + "/half.csv", folder_ + "/rest.csv"}, folder_ + "/m.csv", campaign_);
      }),
      "half.csv: lacks pull 2; run this shard to its end");
  EXPECT_FALSE(std::filesystem::exists(folder_ + "/m.csv"));
  test::expect_part(
      test::problem_of([&] {
        merge_results({folder_ + "/rest.csv", folder_ + "/half.csv"}, folder_ + "/m.csv", campaign_);
      }),
      "is not shard 1 of 2");
  std::string text = test::text_of(folder_ + "/whole.csv");
  text.replace(text.find("\n3,") + 1, 1, "4");
  std::ofstream(folder_ + "/whole.csv", std::ios::binary) << text;
  test::expect_part(test::problem_of([&] { Results r(folder_ + "/whole.csv", campaign_, {}); }),
                    "line 6 is no outcome");
}

}  // namespace
}  // namespace strandproof::sim
