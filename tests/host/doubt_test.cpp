// Which strands a withdrawal leaves in doubt: by the history and the records alone.
#include "host-tool/check/doubt.hpp"

#include <gmock/gmock.h>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/check/spot.hpp"
#include "tests/host/check_pulls.hpp"

namespace strandproof::host::check {
namespace {

using archive::Act;
using archive::Archive;
using archive::HistoryEntry;
using archive::test_jack;
using testing::ElementsAre;
using testing::HasSubstr;

class DoubtTest : public archive::ArchiveTest {
 protected:
  void SetUp() override {
    ArchiveTest::SetUp();
    kept_ = std::make_unique<Archive>(path_);
  }

  void enter(Act act, std::uint32_t revision, std::uint64_t last_record, std::uint32_t outcome = 0) {
    kept_->add(HistoryEntry{test_jack, act, 1777879800, "technician", "", revision, "", "", last_record,
                            outcome, ""});
  }
  void withdraw(std::uint32_t revision, const std::string& reason) {
    enter(Act::withdrawn, revision, 0, reason_number(reason));
  }
  void check(std::uint32_t revision, std::uint64_t last_record, Verdict verdict) {
    enter(Act::checked, revision, last_record, static_cast<std::uint32_t>(verdict));
  }
  void pull(std::uint64_t sequence, std::uint32_t revision, std::uint32_t verdict = 1,
            std::uint32_t bed = 3) {
    add_pull(*kept_, {.sequence = sequence,
                      .position = static_cast<std::uint32_t>(sequence),
                      .revision = revision,
                      .verdict = verdict,
                      .bed = bed});
  }
  // A table comes into use, and one pull is made on it.
  void load(std::uint32_t revision, const std::string& json) {
    kept_->add(
        {test_jack, revision, std::to_string(revision), json, 1777879800},
        {test_jack, Act::loaded, 1777879800, "", "", revision, std::to_string(revision), "", 0, 0, ""});
    pull(revision, revision);
  }
  [[nodiscard]] std::vector<std::uint64_t> doubtful() const {
    std::vector<std::uint64_t> found;
    for (const auto& p : doubtful_pulls(*kept_, test_jack)) found.push_back(p.sequence);
    return found;
  }

  std::unique_ptr<Archive> kept_;
};

TEST_F(DoubtTest, WithoutAWithdrawalNothingIs) {
  pull(1, 1);
  check(1, 1, Verdict::drift);
  EXPECT_THAT(doubtful(), ElementsAre());
}

TEST_F(DoubtTest, EverythingSinceTheLastPassedCheckAndOnlyOnTheWithdrawnTable) {
  pull(1, 1);  // on the table before
  pull(2, 2);
  check(2, 2, Verdict::pass);
  pull(3, 2);
  check(2, 3, Verdict::drift);  // proves nothing
  pull(4, 2);
  withdraw(2, "failed-check");
  EXPECT_THAT(doubtful(), ElementsAre(3, 4));
  pull(5, 3);  // on the table after
  EXPECT_THAT(doubtful(), ElementsAre(3, 4));
}

TEST_F(DoubtTest, ARecordFetchedAfterTheWithdrawalIsJudgedAsWell) {
  check(2, 10, Verdict::pass);
  withdraw(2, "dropped");
  pull(9, 2);
  pull(11, 2);
  EXPECT_THAT(doubtful(), ElementsAre(11));
}

TEST_F(DoubtTest, ACheckAfterTheWithdrawalLiftsNothing) {
  pull(1, 2);
  withdraw(2, "seal");
  check(2, 1, Verdict::pass);
  EXPECT_THAT(doubtful(), ElementsAre(1));
}

TEST_F(DoubtTest, WithoutACheckEveryPullOnTheTable) {
  pull(1, 1);
  pull(2, 2);
  pull(3, 2);
  withdraw(2, "repair");
  EXPECT_THAT(doubtful(), ElementsAre(2, 3));
}

// The checks were made with the cell that was wrong.
TEST_F(DoubtTest, AWrongReferenceCellUndoesThePassedChecksToo) {
  pull(1, 2);
  check(2, 1, Verdict::pass);
  pull(2, 2);
  withdraw(2, "reference-cell");
  EXPECT_THAT(doubtful(), ElementsAre(1, 2));
}

// The cell was wrong for every table made with it, and for one that names no cell.
TEST_F(DoubtTest, AWrongReferenceCellReachesEveryTableThatMayRestOnIt) {
  load(1, R"({"reference_cell": {"serial": "RC7"}})");
  load(2, R"({"reference_cell": {"serial": "RC8"}})");
  load(3, R"({"imported": {}})");
  load(4, R"({"reference_cell": {"serial": "RC7"}, "more": 1})");
  withdraw(4, "dropped");
  EXPECT_THAT(doubtful(), ElementsAre(4));
  withdraw(4, "reference-cell");  // a second reason for the same table
  EXPECT_THAT(doubtful(), ElementsAre(1, 3, 4));
}

// The same runs, fitted with other options and loaded again: what is wrong with one is wrong with both.
TEST_F(DoubtTest, AWithdrawalReachesEveryFitOfTheSameRuns) {
  load(1, R"({"source": {"sha256": "bb"}})");
  load(2, R"({"source": {"sha256": "aa"}, "fit_options": 1})");
  load(3, R"({"source": {"sha256": "aa"}, "fit_options": 2})");
  withdraw(3, "failed-check");
  EXPECT_THAT(doubtful(), ElementsAre(2, 3));
}

// The readings were taken after pull 2 and entered after pull 3.
TEST_F(DoubtTest, ACheckProvesNothingThatWasPulledAfterItsReadings) {
  for (std::uint64_t n = 1; n <= 4; ++n) pull(n, 2);  // at 1777879800 + n
  kept_->add(HistoryEntry{test_jack, Act::checked, 1777879900, "technician", "", 2, "", "", 3,
                          static_cast<std::uint32_t>(Verdict::pass), R"({"first_taken_s": 1777879803})"});
  withdraw(2, "failed-check");
  EXPECT_THAT(doubtful(), ElementsAre(3, 4));
}

TEST_F(DoubtTest, ACheckThatWasNotPassedLeavesSomethingToDo) {
  EXPECT_EQ(pending(*kept_, test_jack, 1).text, "");
  check(1, 1, Verdict::drift);
  EXPECT_FALSE(pending(*kept_, test_jack, 1).withdraw);
  EXPECT_THAT(pending(*kept_, test_jack, 1).text, HasSubstr("said DRIFT"));
  check(1, 2, Verdict::withdraw);
  EXPECT_TRUE(pending(*kept_, test_jack, 1).withdraw);
  EXPECT_THAT(pending(*kept_, test_jack, 1).text, HasSubstr("gauge withdraw"));
  EXPECT_EQ(pending(*kept_, test_jack, 2).text, "") << "another table";
  check(1, 3, Verdict::pass);
  EXPECT_FALSE(pending(*kept_, test_jack, 1).withdraw);
  EXPECT_EQ(pending(*kept_, test_jack, 1).text, "");
}

// Fitted again, written again or with another name it is the same calibration.
TEST(Calibration, IsKnownByItsRunsAndNotByTheText) {
  const std::string one = R"({"source": {"file": "a.csv", "sha256": "aa"}, "class_tenths": 10})";
  EXPECT_TRUE(same_calibration(one, R"({"class_tenths":5,"source":{"sha256":"aa","file":"b.csv"}})"));
  EXPECT_FALSE(same_calibration(one, R"({"source": {"file": "a.csv", "sha256": "ab"}, "class_tenths": 10})"));
  EXPECT_FALSE(same_calibration(R"({"source": {"sha256": ""}})", R"({"source": {"sha256": ""}, "a": 1})"));
}

// One calibration under two revisions: loaded again after an undo, or signed by another key.
TEST_F(DoubtTest, TheSameTableFileUnderAnotherRevisionIsTheSameTable) {
  const auto load = [&](std::uint32_t revision, const char* json) {
    kept_->add(
        {test_jack, revision, std::to_string(revision), json, 1777879800},
        {test_jack, Act::loaded, 1777879800, "", "", revision, std::to_string(revision), "", 0, 0, ""});
  };
  load(1, "one");
  pull(1, 1);
  check(1, 1, Verdict::pass);
  pull(2, 1);
  load(2, "another");
  pull(3, 2);
  load(3, "one");
  pull(4, 3);
  EXPECT_EQ(withdrawn_before(*kept_, test_jack, "one"), "");
  withdraw(3, "dropped");
  EXPECT_THAT(doubtful(), ElementsAre(2, 4));
  EXPECT_EQ(withdrawn_before(*kept_, test_jack, "one"), "DROPPED OR HIT");
  EXPECT_EQ(withdrawn_before(*kept_, test_jack, "another"), "");
}

TEST_F(DoubtTest, EachLineSaysBedStrandReasonAndWhoSignedIt) {
  pull(1, 2, 1, 3);
  pull(2, 2, 6, 3);  // lowered again: nothing of it is in the bed
  pull(3, 2, 1, 4);
  kept_->add(archive::SignOff{3, "engineer", 1777880000, 1, 1, "00"});
  withdraw(2, "seal");
  const auto found = doubtful_pulls(*kept_, test_jack);
  ASSERT_EQ(found.size(), 2U);
  EXPECT_EQ(found[0].bed, 3U);
  EXPECT_EQ(found[0].bed_name, "west line");
  EXPECT_EQ(found[0].reason, "SEAL CHANGED OR LEAKING");
  EXPECT_THAT(found[0].signed_off, HasSubstr("by engineer at 2026-05-04"));
  EXPECT_EQ(found[1].bed, 4U);
  EXPECT_EQ(found[1].signed_off, "");
}

TEST_F(DoubtTest, EveryReasonHasItsWordAndOtherWordsAreRefused) {
  std::vector<std::string> said;
  for (const char* word : {"failed-check", "repair", "seal", "dropped", "reference-cell"}) {
    EXPECT_EQ(reason_number(word), said.size() + 1);
    said.push_back(texts::reason(reason_number(word)));
  }
  EXPECT_THAT(said, ElementsAre("CHECK FAILED", "REPAIR", "SEAL CHANGED OR LEAKING", "DROPPED OR HIT",
                                "REFERENCE CELL FOUND WRONG"));
  EXPECT_THAT(archive::problem_of([] { (void)reason_number("old"); }), HasSubstr("choose one"));
}

}  // namespace
}  // namespace strandproof::host::check
