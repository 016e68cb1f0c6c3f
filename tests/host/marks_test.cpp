// A bed whose gauge table was withdrawn: its page says so at each pull, and nobody can sign it off.
#include "host-tool/report/marks.hpp"

#include <gmock/gmock.h>

#include "host-tool/base/files.hpp"
#include "host-tool/check/doubt.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/report/sign_off.hpp"
#include "tests/host/check_pulls.hpp"

namespace strandproof::host::report {
namespace {

using archive::Act;
using archive::Archive;
using archive::test_jack;
using testing::HasSubstr;
using testing::Not;

constexpr std::int64_t printed = 1777990000;
constexpr std::uint32_t bed = 3;

class MarksTest : public archive::ArchiveTest {
 protected:
  void SetUp() override {
    ArchiveTest::SetUp();
    kept_ = std::make_unique<Archive>(path_);
  }
  void pull(std::uint64_t sequence, std::uint32_t position, std::uint32_t origin, std::uint32_t verdict = 1) {
    add_pull(*kept_, {.sequence = sequence,
                      .position = position,
                      .revision = 2,
                      .verdict = verdict,
                      .bed = bed,
                      .origin = origin});
  }
  void enter(Act act, std::uint64_t last_record, std::uint32_t outcome, const std::string& details = "") {
    kept_->add(archive::HistoryEntry{test_jack, act, printed, "technician", "", 2, "", "", last_record,
                                     outcome, details});
  }
  [[nodiscard]] std::string page() const { return stressing_record(*kept_, bed, printed).html; }
  [[nodiscard]] std::string sign_problem(const std::string& by = "engineer") const {
    return archive::problem_of([&] { (void)sign_off_of(*kept_, bed, by, printed); });
  }

  std::unique_ptr<Archive> kept_;
};

int count(const std::string& text, const std::string& part) {
  int n = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
  return n;
}

TEST_F(MarksTest, ThePageSaysWhichPullsAreInDoubtAndNoOther) {
  pull(1, 1, 3);
  enter(Act::checked, 1, 1);  // passed
  pull(2, 2, 3);
  pull(3, 3, 3);
  EXPECT_THAT(page(), Not(HasSubstr("CALIBRATION IN DOUBT")));
  enter(Act::withdrawn, 3, check::reason_number("dropped"));
  const std::string html = page();
  EXPECT_THAT(html, HasSubstr("CALIBRATION IN DOUBT</span> positions 2 3: their gauge table was withdrawn"));
  EXPECT_EQ(count(html, "gauge table withdrawn: DROPPED OR HIT"), 2);
  EXPECT_EQ(count(html, "; calibration in doubt"), 2);
}

TEST_F(MarksTest, ThePageWarnsOfForceAgainstSlopeWithBothExplanations) {
  for (std::uint32_t i = 1; i <= 20; ++i) {
    add_pull(*kept_, {.sequence = i, .position = i, .revision = 2, .ratio = i <= 10 ? 1.0 : 1.01});
  }
  EXPECT_THAT(page(),
              HasSubstr("WARNING: jack 1001, table revision 2: force against slope: moved by +1.00 %"));
  EXPECT_THAT(page(), HasSubstr("or the k of the plans is not that of these strands"));
}

TEST_F(MarksTest, ABedOfHardwareWithinLimitsIsSignedOffAndThePageShowsIt) {
  pull(1, 1, 3);
  pull(2, 2, 3, 3);
  pull(3, 2, 3);  // again, and within limits
  std::string bodies;
  for (const auto& r : kept_->records()) bodies += r.body;
  const auto s = sign_off_of(*kept_, bed, "engineer", printed);
  EXPECT_EQ(s.pulls, 3U);
  EXPECT_EQ(s.last_record, 3U);
  EXPECT_EQ(s.digest_hex, sha256_hex(bodies));
  kept_->add(s);
  EXPECT_THAT(page(), HasSubstr("signed off by engineer at 2026-05-05T"));
}

TEST_F(MarksTest, NothingSimulatedUnfinishedOrInDoubtIsSignedOff) {
  EXPECT_THAT(sign_problem(), HasSubstr("no pull of bed 3"));
  pull(1, 1, 3);
  EXPECT_EQ(sign_problem(), "no problem");
  EXPECT_THAT(sign_problem(""), HasSubstr("say the role with --by"));
  pull(2, 2, 3, 3);
  EXPECT_THAT(sign_problem(), HasSubstr("position 2 has no last pull within limits"));
  pull(3, 2, 3);
  enter(Act::withdrawn, 3, check::reason_number("seal"));
  EXPECT_THAT(sign_problem(), HasSubstr("position 1 has its calibration in doubt: SEAL"));
}

TEST_F(MarksTest, SimulatedAndEmulatedPullsAreNeverSignedOff) {
  for (const std::uint32_t origin : {0U, 1U, 2U}) {
    const std::uint32_t of_it = 10 + origin;  // a bed that holds nothing else
    add_pull(*kept_, {.sequence = of_it, .position = 1, .revision = 2, .bed = of_it, .origin = origin});
    EXPECT_THAT(archive::problem_of([&] { (void)sign_off_of(*kept_, of_it, "engineer", printed); }),
                HasSubstr("can not be signed off: position 1 is of a jack that is"));
  }
}

TEST_F(MarksTest, TheActiveRevisionFollowsLoadsAndUndos) {
  const auto load = [&](std::uint32_t revision) {
    kept_->add(archive::HistoryEntry{test_jack, Act::loaded, printed, "", "", revision, "", "", 0, 0, ""});
  };
  EXPECT_EQ(check::active_revision(*kept_, test_jack), 0U);
  load(1);
  load(2);
  EXPECT_EQ(check::active_revision(*kept_, test_jack), 2U);
  enter(Act::undone, 0, 0, "1");
  EXPECT_EQ(check::active_revision(*kept_, test_jack), 1U);
  load(3);
  EXPECT_EQ(check::active_revision(*kept_, test_jack), 3U);
  EXPECT_FALSE(check::is_withdrawn(*kept_, test_jack, 2));
  enter(Act::withdrawn, 0, 1);
  EXPECT_TRUE(check::is_withdrawn(*kept_, test_jack, 2));
  EXPECT_FALSE(check::is_withdrawn(*kept_, test_jack, 3));
}

TEST(HeldBytes, ComeBackAsTheTableTheyWere) {
  gauge::HeldTable t{};
  t.jack_serial = 1001;
  t.sensor_serial = {11, 12};
  t.origin = gauge::Origin::emulated;
  t.calibrated_s = 1'777'000'000;
  t.due_s = 1'790'000'000;
  t.class_tenths = 10;
  t.uncertainty_ppm = 9'000;
  t.increasing = {{{{100, 10}, {200, 20}}, {{110, 10}, {210, 20}}}};
  t.decreasing[0] = {{90, 10}, {190, 20}};
  const auto back = check::from_held_bytes(check::held_bytes(t, 7));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->jack_serial, t.jack_serial);
  EXPECT_EQ(back->sensor_serial, t.sensor_serial);
  EXPECT_EQ(back->origin, t.origin);
  EXPECT_EQ(back->calibrated_s, t.calibrated_s);
  EXPECT_EQ(back->due_s, t.due_s);
  EXPECT_EQ(back->class_tenths, t.class_tenths);
  EXPECT_EQ(back->uncertainty_ppm, t.uncertainty_ppm);
  EXPECT_EQ(back->increasing, t.increasing);
  EXPECT_EQ(back->decreasing, t.decreasing);
  EXPECT_NE(check::held_bytes(t, 7), check::held_bytes(t, 8));
  EXPECT_FALSE(check::from_held_bytes("no table"));
  EXPECT_FALSE(check::from_held_bytes("")) << "no column at all";
}

}  // namespace
}  // namespace strandproof::host::report
