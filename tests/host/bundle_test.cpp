// A bundle: the same archive gives the same bytes, the file alone proves what it holds, and a person reads in
// it what the data are.
#include <gmock/gmock.h>

#include "host-tool/base/problem.hpp"
#include "tests/host/bundle_sample.hpp"

namespace strandproof::host::bundle {
namespace {

using testing::HasSubstr;
using testing::Not;

using BundleTest = test::FolderTest;

std::string all_of(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += line + "\n";
  return text;
}

TEST_F(BundleTest, TheSameArchiveGivesTheSameBytesAndTheyProveThemselves) {
  const Sample sample{folder_};
  const std::string file = file_of(sample.data());
  EXPECT_EQ(file, file_of(sample.data()));
  const auto e = examine(file, "b.html");
  EXPECT_TRUE(e.good()) << told(e);
  const std::string holds = all_of(e.proof.holds);
  EXPECT_THAT(holds, HasSubstr("jack 1001: 13 records, 1 to 13, each sealed over the one before"));
  EXPECT_THAT(holds, HasSubstr("4 checkpoints are signed with the jack's key"));
  EXPECT_THAT(holds, HasSubstr("it stands for every record up to 12"));
  EXPECT_THAT(holds, HasSubstr("gauge table revision 2 of jack 1001: signed with the table key"));
  EXPECT_THAT(holds, HasSubstr("gauge table revision 2 of jack 1001: made again from the runs in this file"));
  EXPECT_THAT(holds, HasSubstr("2 instructions: forces and lengths as the jacks recorded them"));
  EXPECT_THAT(holds, HasSubstr("entries 1 to 3 of what people entered"));
  EXPECT_THAT(holds, HasSubstr("log of jack 1001 held up to record"));
}

// From after the pull of another bed; what the record before says is there by its link alone.
TEST_F(BundleTest, ABedIsWhatBelongsToItAndStillProven) {
  const Sample sample{folder_};
  const auto data = sample.data({.bed = 2});
  ASSERT_EQ(data.jacks.size(), 1U);
  ASSERT_TRUE(data.jacks[0].before);
  EXPECT_EQ(data.records.front().sequence, data.jacks[0].before->sequence + 1);
  const auto e = examine(file_of(data), "b.html");
  EXPECT_TRUE(e.good()) << told(e);
  EXPECT_THAT(all_of(e.proof.open), Not(HasSubstr("nothing before it proves it")));
  EXPECT_THAT(file_of(data), Not(HasSubstr("wedge"))) << "words about another bed";
}

TEST_F(BundleTest, AJackAndARangeOfItsRecords) {
  const Sample sample{folder_};
  const auto whole = examine(file_of(sample.data({.jack = sample_jack})), "b.html");
  EXPECT_TRUE(whole.good()) << told(whole);
  EXPECT_EQ(whole.data.records.size(), sample.kept->count());
  EXPECT_THAT(all_of(whole.proof.open),
              HasSubstr("came after its last signature here; their links alone hold them"));
  const auto part = sample.data({.jack = sample_jack, .first = 6, .last = 9});
  EXPECT_EQ(part.records.size(), 4U);
  const auto e = examine(file_of(part), "b.html");
  EXPECT_TRUE(e.good()) << told(e);
  EXPECT_THAT(test::problem_of([&] { (void)sample.data({.jack = 7}); }),
              HasSubstr("holds no record of what was asked"));
  EXPECT_THAT(test::problem_of([&] { (void)sample.data({.bed = 9}); }),
              HasSubstr("holds no record of what was asked"));
}

TEST_F(BundleTest, WithTheKeysOfClosedEpochsTheTagsAreCheckedAndSaidToBeTheHostsWord) {
  const Sample sample{folder_};
  const auto with = examine(file_of(sample.data({.bed = 1}, true)), "b.html");
  EXPECT_TRUE(with.good()) << told(with);
  EXPECT_EQ(with.data.jacks[0].tag_keys.size(), 3U) << "one for each pull that a checkpoint followed";
  EXPECT_THAT(all_of(with.proof.holds), HasSubstr("which host 1122334455667788 gives: by that host's word"));
  const auto without = examine(file_of(sample.data()), "b.html");
  EXPECT_THAT(all_of(without.proof.holds), Not(HasSubstr("tags")));
  EXPECT_THAT(all_of(without.proof.open), HasSubstr("the tags of 13 records are not checked"));
}

TEST_F(BundleTest, ThePageAsksForNothingRunsNothingAndEscapesWhatIsForeign) {
  const Sample sample{folder_};
  const std::string file = file_of(sample.data({.jack = sample_jack}));
  EXPECT_THAT(file, HasSubstr("default-src 'none'"));
  for (const char* asks : {"http:", "https:", "src=", "href=", "url(", "@import", "onload", "<link", "<img"})
    EXPECT_THAT(file, Not(HasSubstr(asks))) << asks;
  EXPECT_EQ(file.find("<script"), file.rfind("<script"));
  EXPECT_THAT(file, HasSubstr("<script type=\"application/json\""));
  EXPECT_THAT(file, Not(HasSubstr("green")));
  EXPECT_THAT(file, HasSubstr("wedge &lt;cleaned&gt;"));
  EXPECT_THAT(file, HasSubstr("name = &quot;&lt;Line &amp; 1&gt;&quot;")) << "the plan can be read";
  EXPECT_THAT(file, HasSubstr("run,direction,set_point_n")) << "the runs can be read";
  EXPECT_THAT(file, HasSubstr("<span>SIMULATED</span>"));
  EXPECT_THAT(file, HasSubstr("(set by host)")) << "quality of the clock";
  EXPECT_THAT(file, HasSubstr("0.1.0 test")) << "build of the jack";
}

TEST_F(BundleTest, SimulatedLiesAcrossEverythingThatIsNotOfSteel) {
  for (const std::uint32_t origin : {0U, 1U, 2U, 3U}) {
    const std::string folder = fmt::format("{}/{}", folder_, origin);
    std::filesystem::create_directories(folder);
    const std::string file = file_of(Sample{folder, {.origin = origin}}.data());
    EXPECT_EQ(file.find("<span>SIMULATED</span>") != std::string::npos, origin == 1 || origin == 2) << origin;
    EXPECT_EQ(file.find("NOT A RECORD OF STEEL") != std::string::npos, origin != 3) << origin;
  }
}

TEST_F(BundleTest, ARecordOfANewerJackIsProvenAndSaidToBeUnknown) {
  const Sample sample{folder_, {.new_kind = true}};
  const std::string file = file_of(sample.data({.jack = sample_jack}));
  EXPECT_TRUE(examine(file, "b.html").good());
  EXPECT_THAT(file, HasSubstr("of a kind this tool does not know"));
}

TEST_F(BundleTest, WhatAnArchiveDoesNotHoldIsOpenAndNoFault) {
  const Sample sample{folder_, {.runs = false}};
  auto data = sample.data();
  data.history[0].details.clear();  // loaded before signatures were kept
  data.jacks[0].head.reset();
  for (auto& i : data.instructions) i.plan_sha256_hex.clear();
  data.documents.clear();
  const auto e = examine(file_of(data), "b.html");
  EXPECT_TRUE(e.good()) << told(e);
  const std::string open = all_of(e.proof.open);
  EXPECT_THAT(open, HasSubstr("its signature was not kept"));
  EXPECT_THAT(open, HasSubstr("what it was made of is not kept"));
  EXPECT_THAT(open, HasSubstr("the host held no head of its log"));
  EXPECT_THAT(open, HasSubstr("instruction 1 of jack 1001: the plan that it came from is not kept"));
}

TEST_F(BundleTest, NoBundleIsMadeOfWhatDoesNotHold) {
  const Sample sample{folder_};
  auto data = sample.data();
  data.records.erase(data.records.begin() + 2);
  EXPECT_THAT(test::problem_of([&] { (void)file_of(data); }),
              HasSubstr("no bundle is made of what does not hold"));
  data = sample.data();
  data.history[0].why = "\xff";
  EXPECT_THAT(test::problem_of([&] { (void)file_of(data); }),
              HasSubstr("a text of the archive can not be written"));
}

}  // namespace
}  // namespace strandproof::host::bundle
