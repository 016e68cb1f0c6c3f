// The calibration report: one page, the same bytes every time, paper and screen alike, nothing left out, and
// only of a table that its runs give. Paper is read back with pdftotext and pdfinfo of poppler-utils.
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>

#include "host-tool/base/problem.hpp"
#include "tests/host/calibration_sample.hpp"

// Fontconfig keeps what it has read until the program ends; that leak is the library's.
extern "C" const char* __lsan_default_suppressions();
extern "C" const char* __lsan_default_suppressions() {
  return "leak:libfontconfig";
}

namespace strandproof::host::report {
namespace {

using test::calibration;
using test::ideal_jack;
using test::many_runs;
using test::of_hardware;
using test::replaced;

std::string fresh_file() {
  std::string path = testing::TempDir() + "page.XXXXXX";
  const int file = mkstemp(path.data());
  EXPECT_GE(file, 0);
  close(file);
  return path;
}

std::string output_of(const std::string& command) {
  std::string text;
  FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return text;
  std::array<char, 4096> part{};
  while (const auto n = fread(part.data(), 1, part.size(), pipe)) text.append(part.data(), n);
  EXPECT_EQ(pclose(pipe), 0) << command << ": is poppler-utils installed?";
  return text;
}

std::string without_spaces(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c != ' ' && c != '\n' && c != '\f' && c != '\t') out += c;
  }
  return out;
}

// Words of a PDF, by pdftotext in the order in which they were drawn.
std::string words_of_paper(const std::string& pdf) {
  const std::string path = fresh_file();
  write_file(path, pdf);
  const auto text = output_of("pdftotext -raw -enc UTF-8 " + path + " -");
  unlink(path.c_str());
  return without_spaces(text);
}

std::map<std::string, std::string> info_of(const std::string& pdf) {
  const std::string path = fresh_file();
  write_file(path, pdf);
  std::string text = output_of("TZ=UTC pdfinfo " + path);
  unlink(path.c_str());
  std::map<std::string, std::string> info;
  while (!text.empty()) {
    const std::string line = text.substr(0, text.find('\n'));
    const auto colon = line.find(':');
    const auto value = colon == line.npos ? line.npos : line.find_first_not_of(' ', colon + 1);
    if (value != line.npos) info[line.substr(0, colon)] = line.substr(value);
    text.erase(0, line.size() + 1);
  }
  return info;
}

// Words of a page of HTML: no style, no elements, escapes undone.
std::string words_of_screen(std::string html) {
  html.erase(html.find("<style>"), html.find("</style>") - html.find("<style>"));
  std::string text;
  bool inside = false;
  for (const char c : html) {
    if (c == '<') inside = true;
    if (!inside) text += c;
    if (c == '>') inside = false;
  }
  for (const auto& [escape, letter] : std::map<std::string, std::string>{
           {"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&apos;", "'"}, {"&#39;", "'"}}) {
    text = replaced(text, escape, letter);
  }
  return without_spaces(replaced(text, "&amp;", "&"));
}

void add(std::vector<std::string>& all, const Grid& g) {
  all.push_back(g.title);
  for (const auto& group : g.groups) all.push_back(group.text);
  all.insert(all.end(), g.headings.begin(), g.headings.end());
  for (const auto& row : g.rows) all.insert(all.end(), row.begin(), row.end());
  all.push_back(g.note);
}

// Every text of the sheet.
std::vector<std::string> texts_of(const CalibrationSheet& s) {
  std::vector<std::string> all{s.title,       s.subject,         s.issuer,        s.origin,
                               s.origin_line, s.residuals_title, s.residuals_note};
  for (const auto* facts : {&s.results, &s.signatures, &s.digests}) {
    for (const auto& f : *facts) all.insert(all.end(), {f.label, f.value});
  }
  for (const auto* g : {&s.unit, &s.errors, &s.runs, &s.fits, &s.points, &s.budget}) add(all, *g);
  for (const auto* r : {&s.statements, &s.cautions}) {
    all.push_back(r->title);
    all.insert(all.end(), r->items.begin(), r->items.end());
  }
  for (const auto& p : s.residuals) {
    for (const auto& l : p.labels) all.push_back(l.text);
  }
  return all;
}

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

int count(const std::string& text, const std::string& part) {
  int n = 0;
  for (auto at = text.find(part); at != text.npos; at = text.find(part, at + 1)) ++n;
  return n;
}

// The problem that the report refuses with.
std::string refusal(const CalibrationInput& in) {
  try {
    (void)calibration_sheet(in);
  } catch (const Problem& p) {
    return p.what();
  }
  return "none";
}

// In a process of its own, under another time zone, language and home.
std::string printed_elsewhere(const CalibrationInput& in, const char* zone, const char* language) {
  const std::string path = fresh_file();
  const pid_t child = fork();
  if (child == 0) {
    setenv("TZ", zone, 1);
    setenv("LC_ALL", language, 1);
    setenv("HOME", "/nonexistent", 1);
    write_file(path, calibration_pdf(calibration_sheet(in), Paper::a4));
    _exit(0);
  }
  int status = 1;
  waitpid(child, &status, 0);
  EXPECT_EQ(status, 0);
  std::string bytes = read_file(path);
  unlink(path.c_str());
  return bytes;
}

TEST(CalibrationReport, SameBytesFromTwoProcesses) {
  const auto in = calibration(ideal_jack(3, 20.0));
  const auto first = printed_elsewhere(in, "UTC", "C");
  ASSERT_GT(first.size(), 10000U);
  EXPECT_EQ(first, printed_elsewhere(in, "Asia/Tokyo", "de_DE.UTF-8"));
  EXPECT_NE(first, printed_elsewhere(calibration(ideal_jack(3, 21.0)), "UTC", "C"));
}

TEST(CalibrationReport, TheOnlyTimeInTheFileIsTheCalibrations) {
  const auto info = info_of(calibration_pdf(calibration_sheet(calibration(ideal_jack(3))), Paper::a4));
  EXPECT_EQ(info.at("CreationDate"), "Mon May  4 07:30:00 2026 UTC");  // 09:30 at +02:00, of the runs
  EXPECT_FALSE(info.contains("ModDate"));
}

// 9 series of 1,000 set points is more than anybody reads in a day.
TEST(CalibrationReport, OnePageOnBothPapersWhateverTheRuns) {
  gauge::TableOptions most;
  most.points = 24;
  for (const auto& in : {calibration(ideal_jack(3, 20.0)), calibration(of_hardware(many_runs(4, 14)), most),
                         calibration(of_hardware(many_runs(9, 10)), most), calibration(many_runs(9, 1000))}) {
    const auto sheet = calibration_sheet(in);
    const auto a4 = info_of(calibration_pdf(sheet, Paper::a4));
    const auto letter = info_of(calibration_pdf(sheet, Paper::letter));
    EXPECT_EQ(a4.at("Pages"), "1");
    EXPECT_TRUE(has(a4.at("Page size"), "(A4)")) << a4.at("Page size");
    EXPECT_EQ(letter.at("Pages"), "1");
    EXPECT_TRUE(has(letter.at("Page size"), "(letter)")) << letter.at("Page size");
  }
}

TEST(CalibrationReport, PaperAndScreenSayTheSame) {
  for (const auto& runs : {ideal_jack(3, 20.0), of_hardware(many_runs(4, 14)), many_runs(9, 40)}) {
    const auto sheet = calibration_sheet(calibration(runs));
    const auto screen = words_of_screen(calibration_html(sheet));
    for (const auto paper : {Paper::a4, Paper::letter}) {
      const auto words = words_of_paper(calibration_pdf(sheet, paper));
      for (const auto& text : texts_of(sheet)) {
        EXPECT_TRUE(has(words, without_spaces(text))) << "not on paper: " << text;
        EXPECT_TRUE(has(screen, without_spaces(text))) << "not on the screen: " << text;
      }
      EXPECT_FALSE(has(words, without_spaces(sheet.title + sheet.title)));  // the search can fail
    }
  }
}

TEST(CalibrationReport, EveryReadingIsOnThePageOrInAMeanThatSaysSo) {
  const auto few = calibration_sheet(calibration(ideal_jack(3, 20.0)));
  EXPECT_EQ(few.runs.title, "Calibration runs");
  EXPECT_EQ(few.runs.rows.size(), 12U);  // ten set points, zero before and after
  EXPECT_EQ(few.runs.rows.front(),
            (std::vector<std::string>{"zero before", "0.000", "0.000", "0.000", "0.000", "0.000", "0.000",
                                      "0.000", "0.000", "0.000", "–", "–", "–"}));
  EXPECT_EQ(few.residuals[0].marks.size(), 40U);
  // 30 kN: (30000 + 600) / 0.4656 = 65721.65 mbar; series 1 reads 20 N below; down (30000 - 600) / 0.4944 =
  // 59466.02.
  EXPECT_EQ(few.runs.rows[2][1], "29.980");
  EXPECT_EQ(few.runs.rows[2][2], "65.722");
  EXPECT_EQ(few.runs.rows[2][11], "59.466");

  const auto many = calibration_sheet(calibration(many_runs(9, 1000)));
  EXPECT_TRUE(has(many.runs.title, "summarised by tenths of the largest force"));
  EXPECT_TRUE(has(many.runs.note, "10018 readings in 10 increasing and decreasing runs"));
  int readings = 0;
  for (const auto& row : many.runs.rows) readings += std::stoi(row[1]);
  EXPECT_EQ(readings, 10018);  // 9 up, 1 down, and 18 zeros
  EXPECT_EQ(many.residuals[1].marks.size(), 10000U);
}

// Series r of the ideal jack reads (r - 2) * 20 N beside a straight line, so the line is the mean and the
// table less the reference is +20, 0, -20 N; it holds whole N.
TEST(CalibrationReport, MarksLieWhereTheDeviationsAre) {
  const auto picture = calibration_sheet(calibration(ideal_jack(3, 20.0))).residuals[0];
  std::map<std::string, double> y;
  for (const auto& l : picture.labels) y[l.text] = l.at.y;
  ASSERT_TRUE(y.contains("+100") && y.contains("-100"));
  const double zero = (y["+100"] + y["-100"]) / 2.0;
  const double mm_per_n = (y["-100"] - y["+100"]) / 200.0;
  std::map<int, int> near;  // of the multiples of 20 N
  for (const auto& m : picture.marks) {
    const double n = (zero - 0.9 - m.at.y) / mm_per_n;  // numbers stand 0.9 mm below their line
    const auto twenty = static_cast<int>(std::lround(n / 20.0));
    EXPECT_NEAR(n, 20.0 * twenty, 1.01);
    if (m.up) ++near[twenty];
  }
  EXPECT_EQ(near, (std::map<int, int>{{-1, 10}, {0, 10}, {1, 10}}));
}

// trade.md 5.3, closed form: up F = 4.656 p - 0.6, down F = 4.944 p + 0.6 (MPa, kN).
TEST(CalibrationReport, CurvesAreThoseOfTheIdealJack) {
  const auto fits = calibration_sheet(calibration(ideal_jack(3))).fits;
  ASSERT_EQ(fits.rows.size(), 4U);
  EXPECT_EQ(fits.rows[0][1], "-600 + 0.4656 p");
  EXPECT_EQ(fits.rows[3][1], "600 + 0.4944 p");
}

TEST(CalibrationReport, SimulatedLiesAcrossAndCanNotBeSigned) {
  const auto simulated = calibration_sheet(calibration(ideal_jack(3)));
  const auto paper = words_of_paper(calibration_pdf(simulated, Paper::a4));
  EXPECT_EQ(count(paper, "SIMULATED"), 2);  // across the page, and in the line at its head
  EXPECT_TRUE(has(paper, "CANNOTBESIGNEDOFF"));
  EXPECT_FALSE(has(paper, "signature"));
  const auto screen = calibration_html(simulated);
  EXPECT_TRUE(has(screen, "<div class=\"across\" aria-hidden=\"true\"><span>SIMULATED</span></div>"));

  const auto emulated = calibration_sheet(calibration(replaced(ideal_jack(3), ",simulated,", ",emulated,")));
  EXPECT_EQ(emulated.origin, "SIMULATED");
  EXPECT_TRUE(has(emulated.origin_line, "EMULATED TARGET"));

  const auto real = calibration_sheet(calibration(of_hardware(ideal_jack(3))));
  const auto signable = words_of_paper(calibration_pdf(real, Paper::a4));
  EXPECT_FALSE(has(signable, "SIMULATED"));
  EXPECT_EQ(count(signable, "role,name,date,signature"), 3);
}

TEST(CalibrationReport, NotAccreditedUnlessTheIssuerSaysSo) {
  auto in = calibration(ideal_jack(3));
  EXPECT_TRUE(has(calibration_sheet(in).issuer, "Not an accredited calibration."));
  in.accreditation = "invented body, number 0";
  EXPECT_FALSE(has(calibration_sheet(in).issuer, "Not an accredited"));
  EXPECT_TRUE(has(calibration_sheet(in).issuer, "invented body, number 0"));
}

TEST(CalibrationReport, ForeignTextIsEscapedOrDrawn) {
  auto in = calibration(ideal_jack(3));
  in.issuer = "<script>&\"' Öl";
  const auto sheet = calibration_sheet(in);
  EXPECT_FALSE(has(calibration_html(sheet), "<script"));
  EXPECT_TRUE(has(words_of_paper(calibration_pdf(sheet, Paper::a4)), "<script>&\"'Öl"));
}

TEST(CalibrationReport, AsksForNothingElse) {
  const auto html = calibration_html(calibration_sheet(calibration(ideal_jack(3))));
  for (const char* request :
       {"http:", "https:", "//", "src=", "href=", "url(", "@import", "<script", "<link"}) {
    EXPECT_FALSE(has(html, request)) << request;
  }
}

TEST(CalibrationReport, TextsFarTooLongAreRefusedNotCut) {
  auto in = calibration(ideal_jack(3));
  in.issuer.assign(20000, 'x');
  const auto sheet = calibration_sheet(in);
  EXPECT_THROW((void)calibration_pdf(sheet, Paper::a4), Problem);
}

TEST(CalibrationReport, ATableThatItsRunsDoNotGiveIsRefused) {
  const auto in = calibration(ideal_jack(3, 20.0));
  EXPECT_EQ(refusal(in), "none");
  const auto changed = [&](const std::string& what, const std::string& with) {
    auto other = in;
    other.table = replaced(in.table, what, with);
    EXPECT_NE(other.table, in.table) << what;
    return refusal(other);
  };
  EXPECT_TRUE(has(changed("\"due\": \"2026-11-02", "\"due\": \"2027-11-02"), "/due is \"2027-11-02"));
  EXPECT_TRUE(
      has(changed("\"jack_serial\": 1001", "\"jack_serial\": 1002"), "/jack_serial is 1002 where the runs"));
  EXPECT_TRUE(
      has(changed("\"origin\": \"simulated\"", "\"origin\": \"hardware\""), "/origin is \"hardware\""));
  EXPECT_TRUE(has(changed("\"version\": 1", "\"version\": 1, \"more\": 1"),
                  "/more is 1 where the runs give missing"));
}

// One newton in one point.
TEST(CalibrationReport, OnePointOneNewtonOffIsRefused) {
  auto in = calibration(ideal_jack(3, 20.0));
  const auto table = gauge::from_json(in.table, "table.json");
  const auto force = std::to_string(table.increasing[1][2].force_n);
  const auto at = in.table.find(force, in.table.find("\"b_increasing\""));
  ASSERT_NE(at, std::string::npos);
  in.table.replace(at, force.size(), std::to_string(table.increasing[1][2].force_n + 1));
  EXPECT_TRUE(has(refusal(in), "/columns/b_increasing/points_mbar_n/2/1")) << refusal(in);
}

TEST(CalibrationReport, OtherRunsAreNamedAsSuch) {
  auto in = calibration(ideal_jack(3, 20.0));
  in.runs += "\n";
  EXPECT_TRUE(has(refusal(in), "table.json: was not made of runs.csv"));
}

}  // namespace
}  // namespace strandproof::host::report
