// Which strands a withdrawal leaves in doubt: by the history and the records alone.
#include "host-tool/check/doubt.hpp"

#include <gmock/gmock.h>

#include <cmath>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/check/same.hpp"
#include "host-tool/check/spot.hpp"
#include "host-tool/gauge/pairs.hpp"
#include "tests/host/check_pulls.hpp"
#include "tests/host/rig_text.hpp"
#include "tests/host/support.hpp"

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
  // A calibration that reads `ratio` times what the first one of this test would.
  [[nodiscard]] static std::string calibration(double ratio, std::int64_t at_s, std::uint32_t sensor = 12) {
    gauge::Table t{};
    t.jack_serial = test_jack;
    t.sensor_serial = {11, sensor};
    t.origin = gauge::Origin::simulated;
    t.calibrated_s = t.first_taken_s = at_s;
    t.due_s = at_s + 86'400;
    t.uncertainty_ppm = 9'000;
    t.imported = gauge::Imported{"laboratory", "C"};
    for (auto& column : t.increasing) {
      // Other pressures each time, on one line: no two calibrations share a point.
      for (std::uint32_t bar = 20; bar <= 200; bar += 20) {
        const std::uint32_t mbar = bar * 1000 + 50 * static_cast<std::uint32_t>(at_s % 97);
        column.points.push_back({mbar, static_cast<std::uint32_t>(std::lround(ratio * mbar))});
      }
    }
    return gauge::to_json(t, {"pairs.csv", std::to_string(at_s)});
  }
  void come_into_use(std::uint32_t revision, const std::string& json, std::uint64_t last_record) {
    kept_->add({test_jack, revision, std::to_string(revision), json, 1777879800},
               {test_jack, Act::loaded, 1777879800, "", "", revision, std::to_string(revision), "",
                last_record, 0, ""});
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

TEST_F(DoubtTest, EverythingSinceTheLastPassedCheckAndNothingOnALaterTable) {
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
  pull(1, 1);  // on a table that this archive never loaded
  pull(2, 2);
  pull(3, 2);
  withdraw(2, "repair");
  EXPECT_THAT(doubtful(), ElementsAre(2, 3));
}

// A jack that was found wrong may have been wrong before its last calibration, unless that one found it
// right.
TEST_F(DoubtTest, APullOnTheTableBeforeIsReachedUnlessTheNewCalibrationConfirmedThatTable) {
  constexpr std::int64_t later = 1777879800 + 10;  // after pulls 1 to 9, before pull 10
  for (const auto& [ratio, sensor, expected] :
       {std::tuple{1.008, 12U, std::vector<std::uint64_t>{11, 12}},  // within its 0.9 %
        std::tuple{1.010, 12U, std::vector<std::uint64_t>{2, 3, 11, 12}},
        std::tuple{1.000, 13U, std::vector<std::uint64_t>{2, 3, 11, 12}}}) {  // another sensor says nothing
    ArchiveTest::TearDown();
    SetUp();
    come_into_use(1, calibration(1.0, 1777879000), 0);
    pull(1, 1);
    check(1, 1, Verdict::pass);
    pull(2, 1);
    pull(3, 1);
    come_into_use(2, calibration(ratio, later, sensor), 10);
    pull(11, 2);
    pull(12, 2);
    withdraw(2, "dropped");
    EXPECT_EQ(doubtful(), expected) << ratio << " " << sensor;
    EXPECT_EQ(withdrawn_before(*kept_, test_jack, calibration(1.0, 1777879000)), "")
        << "in doubt, but not withdrawn";
  }
}

// Revision 2 was never pulled on: that 3 agrees with it proves nothing of what was pulled on 1 after the
// undo.
TEST_F(DoubtTest, ATableThatWasUndoneIsNotTheOneThatACalibrationConfirms) {
  come_into_use(1, calibration(1.0, 1777879000), 0);
  pull(1, 1);
  come_into_use(2, calibration(1.02, 1777879800 + 2), 1);
  kept_->add(HistoryEntry{test_jack, Act::undone, 1777879900, "technician", "", 2, "", "", 1, 0, "1"});
  pull(3, 1);
  come_into_use(3, calibration(1.02, 1777879800 + 10), 3);
  pull(11, 3);
  withdraw(3, "dropped");
  EXPECT_THAT(doubtful(), ElementsAre(1, 3, 11));
}

// A later table whose top lies a little lower confirms as far as it reaches; one that ends at half does not.
TEST_F(DoubtTest, ACalibrationConfirmsAsFarAsItReaches) {
  const auto full = table_of(calibration(1.0, 1777879000));
  auto shorter = table_of(calibration(1.0, 1777879800));
  for (auto& column : shorter->increasing) column.back().pressure_mbar -= 30;
  EXPECT_TRUE(confirms(*shorter, *full));
  for (auto& column : shorter->increasing) column.resize(5);
  EXPECT_FALSE(confirms(*shorter, *full));
  EXPECT_NEAR(largest_difference(*table_of(calibration(1.02, 1777879000)), *full), 0.02, 1e-12);
}

// What was pulled on the old table while the jack was being calibrated, or without a clock, is not proved.
TEST_F(DoubtTest, ACalibrationProvesOnlyWhatWasPulledBeforeItsFirstReading) {
  come_into_use(1, calibration(1.0, 1777879000), 0);
  for (std::uint64_t n = 1; n <= 4; ++n) pull(n, 1);  // at 1777879800 + n
  come_into_use(2, calibration(1.0, 1777879803), 4);
  pull(5, 2);
  withdraw(2, "failed-check");
  EXPECT_THAT(doubtful(), ElementsAre(3, 4, 5));
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
  check(3, 3, Verdict::pass);
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
  check(1, 1, Verdict::pass);
  withdraw(2, "failed-check");  // named after the other fit had come into use
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

// Times moved, a reading left out, another degree: the readings are known again, and the points as pairs.
TEST(Calibration, ComesBackInNoOtherClothes) {
  const auto fitted = [](const std::string& runs, std::optional<int> degree = {}) {
    gauge::TableOptions o{};
    o.degree = degree;
    return gauge::to_json(gauge::make_table(gauge::read_runs(runs, "runs.csv"), o),
                          {"runs.csv", sha256_hex(runs)});
  };
  const std::string runs = test::ideal_jack(3, 20.0);
  const std::string one = fitted(runs);
  const auto at_time = [](std::string text, const std::string& time) {
    const std::string was = "2026-05-04T09:30:00";
    for (auto at = text.find(was); at != text.npos; at = text.find(was)) text.replace(at, was.size(), time);
    return text;
  };
  const std::string moved = at_time(runs, "2026-05-04T09:30:01");
  EXPECT_TRUE(same_calibration(one, fitted(moved, 2)));
  const auto left_out = moved.find("2,up,75000");
  EXPECT_TRUE(same_calibration(
      one, fitted(std::string{moved}.erase(left_out, moved.find('\n', left_out) + 1 - left_out))));
  EXPECT_FALSE(same_calibration(one, fitted(at_time(test::ideal_jack(1, 40.0), "2026-05-05T09:30:00"))))
      << "a new calibration of the same jack";

  const auto held = gauge::from_json(one, "table.json");
  std::string pairs = "channel,direction,pressure_mbar,force_n\n";
  for (const auto* channel : {"A", "B"}) {
    for (const auto& p : held.increasing[0])
      pairs += fmt::format("{},up,{},{}\n", channel, p.pressure_mbar, p.force_n);
  }
  for (const auto& [mbar, n, expected] :
       {std::tuple{0, 1, true}, {5, 5, true}, {11, 0, false}, {0, 11, false}}) {
    std::string other = "channel,direction,pressure_mbar,force_n\n";
    for (const auto* channel : {"A", "B"}) {
      for (const auto& p : held.increasing[0])
        other += fmt::format("{},up,{},{}\n", channel, p.pressure_mbar + mbar, p.force_n + n);
    }
    const gauge::Certificate o{"laboratory",       "C",         held.jack_serial,
                               held.sensor_serial, held.origin, held.calibrated_s + 5,
                               held.due_s,         9000,        {}};
    EXPECT_EQ(same_calibration(
                  one, gauge::to_json(gauge::read_pairs(other, "pairs.csv", {}, o), {"pairs.csv", "01"})),
              expected)
        << mbar << " " << n;
  }
  const gauge::Certificate c{"laboratory",       "C",         held.jack_serial,
                             held.sensor_serial, held.origin, held.calibrated_s + 5,
                             held.due_s,         9000,        {}};
  EXPECT_TRUE(same_calibration(
      one, gauge::to_json(gauge::read_pairs(pairs, "pairs.csv", {}, c), {"pairs.csv", "00"})));
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
  EXPECT_THAT(doubtful(), ElementsAre(2, 3, 4)) << "on a table between the two: nothing proves it";
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
