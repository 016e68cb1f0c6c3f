// The stressing record as a page: self-contained, escaped, well-formed, SIMULATED where it must be, and its
// figures and curve those of the records.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <regex>
#include <string>
#include <vector>

#include "host-tool/base/problem.hpp"
#include "host-tool/report/lines.hpp"
#include "host-tool/report/stressing_record.hpp"
#include "proto/peer/measured.hpp"

namespace strandproof::host::report {
namespace {

constexpr std::int64_t printed_s = 1777879800;
constexpr std::uint32_t load_on_chuck = 2, no_load = 0;
constexpr std::uint32_t good = 1, replace = 5;
constexpr std::uint32_t simulated = 1, hardware = 3;

class PageTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string folder = testing::TempDir() + "page.XXXXXX";
    ASSERT_NE(mkdtemp(folder.data()), nullptr);
    folder_ = folder;
    kept_ = std::make_unique<archive::Archive>(folder + "/archive.sqlite");
  }
  void TearDown() override {
    kept_.reset();
    std::filesystem::remove_all(folder_);
  }

  void add(const wire::Record& record) {
    ++sequence_;
    const std::vector<archive::StoredRecord> one{
        {1001, 1, sequence_, sequence_ * 1500, record.SerializeAsString()}};
    kept_->add(one);
  }

  void event(std::uint32_t code, std::uint32_t load, std::uint32_t instruction, std::uint32_t cause = 0) {
    wire::Record r;
    auto& e = *r.mutable_event();
    e.set_code(code);
    e.set_load_state(load);
    e.set_instruction(instruction);
    e.set_cause(cause);
    e.set_value(131000);
    e.set_limit(130500);
    add(r);
  }

  wire::PullRecord pull(std::uint32_t position, std::uint32_t instruction, std::uint32_t verdict,
                        std::uint32_t origin) {
    wire::PullRecord p;
    p.set_instruction(instruction);
    p.set_bed(1);
    p.set_position(position);
    p.set_bed_name("Line 1");
    p.set_strand_name("12.9 mm Y1860S7");
    p.set_reel(4711);
    p.set_table_revision(3);
    p.set_settings_revision(2);
    p.set_origin(origin);
    p.set_verdict(verdict);
    p.set_load_state(load_on_chuck);
    p.set_initial_n(15000);
    p.set_seated_n(128000);
    p.set_jack_n(130000);
    p.set_limit_n(142000);
    p.set_elongation_plan_um(360000);
    p.set_elongation_min_um(342000);
    p.set_elongation_max_um(378000);
    p.set_datum_n(15000);
    p.set_settle_n(129900);
    p.set_locked_n(128640);
    p.set_elongation_um(363600);
    p.set_draw_in_um(4000);
    p.set_uncertainty_ppm(8000);
    p.set_force_window_ppm(50000);
    for (const int um : {0, 180000, 183600}) p.add_curve_um(um);
    for (const int n : {15000, 57000, 57900}) p.add_curve_n(n);
    return p;
  }

  void add_pull(const wire::PullRecord& p) {
    wire::Record r;
    *r.mutable_pull() = p;
    add(r);
  }

  std::string page() { return stressing_record(*kept_, 1, printed_s).html; }

  std::string folder_;
  std::unique_ptr<archive::Archive> kept_;
  std::uint64_t sequence_ = 0;
};

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

// Every element that is opened is closed, in order; the void elements of HTML apart.
std::string unbalanced(const std::string& html) {
  std::vector<std::string> open;
  const std::regex tag{R"(<(/?)([a-zA-Z0-9]+)[^>]*?(/?)>)"};
  for (std::sregex_iterator i{html.begin(), html.end(), tag}, end; i != end; ++i) {
    const std::string name = (*i)[2];
    if ((*i)[3] == "/" || name == "meta") continue;
    if ((*i)[1] != "/") {
      open.push_back(name);
    } else if (open.empty() || open.back() != name) {
      return "</" + name + "> at " + std::to_string(i->position());
    } else {
      open.pop_back();
    }
  }
  return open.empty() ? "" : "<" + open.back() + "> never closed";
}

TEST_F(PageTest, HoldsEverythingAndAsksForNothing) {
  add_pull(pull(1, 1, good, simulated));
  const auto html = page();
  EXPECT_EQ(unbalanced(html), "");
  for (const char* request :
       {"http:", "https:", "//", "src=", "href=", "url(", "@import", "<script", "<link", "<iframe"}) {
    EXPECT_FALSE(has(html, request)) << request;
  }
}

TEST_F(PageTest, TheBalanceCheckSeesAMissingEnd) {
  EXPECT_NE(unbalanced("<table><tr><td>1</tr></table>"), "");
  EXPECT_NE(unbalanced("<p>"), "");
}

TEST_F(PageTest, FiguresAreThoseOfTheRecords) {
  add_pull(pull(1, 1, good, hardware));
  const auto html = page();
  // 0.8 % of 129.9 kN is 1.04 kN: one digit behind the point and none beyond it.
  EXPECT_TRUE(has(html, "129.9 kN \u00b1 1.0 kN"));
  EXPECT_TRUE(has(html, "+0.5 %"));  // 128.64 against 128
  EXPECT_TRUE(has(html, "+1.0 %"));  // 363.6 against 360
  EXPECT_TRUE(has(html, "342.0 mm to 378.0 mm"));
  EXPECT_TRUE(has(html, "128.0 kN \u00b1 5.0 %"));
  EXPECT_TRUE(has(html, "revision 3, revision 2"));
  EXPECT_TRUE(has(html, "0.80 % of reading (k = 2)"));
  EXPECT_TRUE(has(html, "WITHIN LIMITS"));
}

// GUM (JCGM 100:2008) 5.1.2, worked by hand. k = (129,900 - 128,640) N / 4 mm = 315 N/mm; the table's share
// is 0.8 % of 128.64 kN = 1.029 kN, the draw-in's 315 N/mm * 2 * 0.3 mm = 0.189 kN, together 1.046 kN. On ten
// metres k = 1,900 N/mm: 0.8 % of 120.4 kN = 0.963 kN and 1.140 kN, together 1.492 kN.
TEST_F(PageTest, TheLockedForceIsAsUncertainAsTableAndDrawInTogether) {
  add_pull(pull(1, 1, good, hardware));
  EXPECT_TRUE(has(page(), "<td>128.6 kN \u00b1 1.0 kN</td>"));
  EXPECT_TRUE(has(page(), "standard uncertainty of a draw-in 0.3 mm, a figure of our own simulated jack"));
  auto short_bed = pull(2, 2, good, hardware);
  short_bed.set_settle_n(128000);
  short_bed.set_locked_n(120400);
  add_pull(short_bed);
  EXPECT_TRUE(has(page(), "<td>120.4 kN \u00b1 1.5 kN</td>"));
  // No draw-in seen: k of the plan, (130 - 15) kN / 360 mm = 319 N/mm; 0.05 % of 128 kN = 0.064 kN and 0.192
  // kN.
  auto dry = pull(3, 3, good, hardware);
  dry.set_draw_in_um(0);
  dry.set_locked_n(128000);
  dry.set_uncertainty_ppm(500);
  add_pull(dry);
  EXPECT_TRUE(has(page(), "<td>128.0 kN \u00b1 0.2 kN</td>"));
  dry.set_uncertainty_ppm(0);
  dry.set_position(4);
  add_pull(dry);
  EXPECT_TRUE(has(page(), "<td>128.0 kN (uncertainty not stated)</td>"));
}

TEST_F(PageTest, TheCurveIsDrawnWhereItsPointsAre) {
  const auto one = pull(1, 1, good, hardware);
  const auto svg = curve_svg(one, proto::curve_of(one, {}));
  // Axes: 52 to 446 over 378 mm x 1.05, 210 to 14 over 142 kN x 1.05 (geometry of curve.cpp, worked by hand).
  EXPECT_TRUE(has(svg, "points='52.0,190.3 230.7,115.4 412.9,39.2 '")) << svg;
}

// Parts of a curve are the records right before their pull's: those of another pull are none of its own.
TEST_F(PageTest, TheCurveIsJoinedFromTheRecordsBeforeThePull) {
  const auto part = [&](std::uint32_t instruction, std::uint32_t first, const std::string& points) {
    wire::Record r;
    r.mutable_curve()->set_instruction(instruction);
    r.mutable_curve()->set_first(first);
    r.mutable_curve()->set_total(3);
    r.mutable_curve()->set_points(points);
    add(r);
  };
  const auto with_curve = [&](std::uint32_t position, std::uint32_t instruction) {
    auto p = pull(position, instruction, good, hardware);
    p.clear_curve_um();
    p.clear_curve_n();
    p.set_curve_points(3);
    p.set_curve_within_um(360);
    p.set_curve_within_n(131);
    add_pull(p);
  };
  // Rows of (ms, um, n): (1, 0, 15000), (2, 180000, 72000) and (3, 363600, 129900), zigzag varints by hand.
  const std::string two("\x02\x00\xB0\xEA\x01\x02\xC0\xFC\x15\xD0\xFA\x06", 12);
  const std::string third("\x06\xE0\xB0\x2C\xD8\xED\x0F", 7);
  part(1, 0, two);
  part(1, 2, third);
  with_curve(1, 1);
  part(9, 2, third);  // of a pull whose own record a power cut has left out
  part(2, 0, two);
  with_curve(2, 2);
  const auto html = page();
  EXPECT_TRUE(has(html, "points='52.0,190.3 230.7,115.4 412.9,39.2 '"));
  EXPECT_TRUE(has(html, "points: 3 recorded, no sample further than 0.13 kN and 0.36 mm from the line;"));
  EXPECT_TRUE(has(html, "points='52.0,190.3 230.7,115.4 '"));
  EXPECT_TRUE(has(html, "1 of 3 points are missing"));
}

TEST_F(PageTest, SimulatedIsAcrossThePageAndCannotBeSigned) {
  add_pull(pull(1, 1, good, hardware));
  EXPECT_FALSE(has(page(), "SIMULATED"));
  EXPECT_TRUE(has(page(), "quality control, date"));
  add_pull(pull(2, 2, good, simulated));  // one simulated pull makes the page one
  const auto html = page();
  EXPECT_TRUE(has(html, "<div class=\"across\" aria-hidden=\"true\"><span>SIMULATED</span></div>"));
  EXPECT_TRUE(has(html, "can not be signed off"));
  EXPECT_FALSE(has(html, "quality control, date"));
}

TEST_F(PageTest, ForeignTextIsEscaped) {
  auto p = pull(1, 1, good, simulated);
  p.set_bed_name("<script>&\"'");
  p.set_strand_name("<b>12.9</b>");
  add_pull(p);
  const auto html = page();
  EXPECT_FALSE(has(html, "<script"));
  EXPECT_FALSE(has(html, "<b>12.9"));
  EXPECT_TRUE(has(html, "&lt;script&gt;&amp;&quot;"));
  EXPECT_EQ(unbalanced(html), "");
}

TEST_F(PageTest, NothingIsGreen) {
  add_pull(pull(1, 1, good, simulated));
  const auto html = page();
  const std::regex colour{"#([0-9a-fA-F]{6}|[0-9a-fA-F]{3})\\b"};
  int seen = 0;
  for (std::sregex_iterator i{html.begin(), html.end(), colour}, end; i != end; ++i, ++seen) {
    std::string hex = (*i)[1];
    if (hex.size() == 3) hex = {hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]};
    const auto channel = [&](std::size_t at) { return std::stoi(hex.substr(at, 2), nullptr, 16); };
    EXPECT_FALSE(channel(2) > channel(0) + 16 && channel(2) > channel(4) + 16) << hex;
  }
  EXPECT_GT(seen, 5);
  EXPECT_FALSE(has(html, "green"));
}

TEST_F(PageTest, ALoadedBedStaysLoadedUntilItIsDetensioned) {
  const std::string loaded = "<div class=\"load on\">";
  add_pull(pull(1, 1, good, hardware));
  EXPECT_TRUE(has(page(), loaded));
  event(1, no_load,
        0);  // the jack says no load of itself after a power cycle; the strand is still in the chuck
  EXPECT_TRUE(has(page(), loaded));
  EXPECT_TRUE(has(page(), "LOAD ON CHUCK</b>"));
  event(19, no_load, 0);  // detensioned
  EXPECT_FALSE(has(page(), loaded));
  EXPECT_TRUE(has(page(), "NO LOAD</b>"));
  event(1, 3, 0);
  EXPECT_TRUE(has(page(), "LOAD NOT KNOWN - KEEP CLEAR</b>"));
}

TEST_F(PageTest, EventsStandWithTheirPull) {
  event(9, no_load, 0);
  event(7, no_load, 1);
  event(3, 1, 1, 1);
  event(16, 1, 0);
  add_pull(pull(1, 1, replace, simulated));
  const auto html = page();
  const auto own = html.find("Events of this pull");
  const auto others = html.find("Other events of the jack");
  ASSERT_LT(own, others);
  EXPECT_GT(html.find("clock set by host"), others);
  EXPECT_LT(html.find("<td>armed ["), others);
  EXPECT_LT(html.find("FORCE ABOVE ITS LIMIT (131.00 kN, limit 130.50 kN)"), others);
  EXPECT_LT(html.find("seated, draw-in"), others);
  EXPECT_TRUE(has(html, "<span class=\"mark danger\">&#10007; STRAND MUST BE REPLACED"));
}

TEST_F(PageTest, CountsLastPullOfEachPosition) {
  add_pull(pull(1, 1, good, simulated));
  add_pull(pull(2, 2, replace, simulated));
  EXPECT_EQ(stressing_record(*kept_, 1, printed_s).good, 1);
  EXPECT_FALSE(is_good(pulls_of_bed(*kept_, 1), 2));
  add_pull(pull(2, 3, good, simulated));
  const auto after = stressing_record(*kept_, 1, printed_s);
  EXPECT_EQ(after.pulls, 3);
  EXPECT_EQ(after.positions, 2);
  EXPECT_EQ(after.good, 2);
  EXPECT_THROW((void)stressing_record(*kept_, 2, printed_s), Problem);
}

TEST(Lines, ValuesStandInTheUnitOfTheirCause) {
  EXPECT_EQ(proto::measured(1, 131000), "131.00 kN");
  EXPECT_EQ(proto::measured(102, 378040), "378.0 mm");
  EXPECT_EQ(proto::measured(105, 90000), "90000 ms");
  // 1690 of 43690 counts: 16 mA of the 24 mA that 65535 counts are.
  EXPECT_EQ(proto::measured(6, 1690), "3.87 % of the sensor's range");
  EXPECT_EQ(proto::measured(4, 2), "pressure B");
  EXPECT_EQ(record_line("\xff\xff"), "not readable: of a newer jack, or damaged");
}

TEST(Lines, AStopIsCalledByWhatItWasAndNumbersHaveWords) {
  const auto line = [](std::uint32_t code, std::uint32_t cause, std::uint32_t detail, std::uint32_t value) {
    wire::EventRecord e;
    e.set_code(code);
    e.set_cause(cause);
    e.set_detail(detail);
    e.set_value(value);
    const std::string text = event_line(e);
    return text.substr(0, text.find(" ["));
  };
  EXPECT_EQ(line(3, 47, 47, 0), "hazard row tripped: BARRIER OPEN; SEARCH THE BED, CLOSE, CONFIRM CLEAR");
  EXPECT_EQ(line(27, 101, 101, 0), "emergency stop; SEARCH THE BED, UNLATCH, CONFIRM CLEAR");
  EXPECT_EQ(line(28, 105, 105, 0),
            "stopped by the jack itself: PHASE TOOK TOO LONG; CHECK PUMP, OIL AND PLAN");
  EXPECT_EQ(line(12, 0, 2, 0), "entry at the bed: neighbours inspected");
  EXPECT_EQ(line(12, 0, 9, 0), "entry at the bed: number 9 (of a newer jack)");
  EXPECT_EQ(line(20, 0, 53, 35),
            "refused over the link: end of a gauge table: TABLE REVISION NOT HIGHER: give the table a higher "
            "revision");
}

// Numbers alone tell a person nothing: words of proto/catalogue.def beside them.
TEST(Lines, NumbersInEventsStandBesideTheirWords) {
  using testing::HasSubstr;
  const auto line = [](std::uint32_t code, std::uint32_t detail, std::uint32_t value = 0) {
    wire::EventRecord e;
    e.set_code(code);
    e.set_detail(detail);
    e.set_value(value);
    return event_line(e);
  };
  EXPECT_THAT(line(6, 3), HasSubstr("CLOCK NOT KNOWN: set the clock from the host (refusal 3)"));
  EXPECT_THAT(line(21, 4, 2), HasSubstr(": DROPPED OR HIT (reason 4, revision 2)"));
  EXPECT_THAT(line(25, 3, 2), HasSubstr(": SEAL (part 3, revision voided 2)"));
  EXPECT_THAT(line(26, 25, 2), HasSubstr("STORED GAUGE TABLE NOT VALID: load the gauge table again"));
  EXPECT_THAT(line(24, 0x04030201), HasSubstr(": fingerprint 0102 0304"));
  EXPECT_THAT(line(8, 3), HasSubstr("gauge table loaded (revision 3)"));
  EXPECT_THAT(line(11, 9), HasSubstr("pull instruction loaded (instruction 9)"));
}

}  // namespace
}  // namespace strandproof::host::report
