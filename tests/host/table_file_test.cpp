// The table's file keeps all that makes the table again: options back, and the same bytes.
#include "host-tool/gauge/table_file.hpp"

#include <gtest/gtest.h>

#include <ostream>
#include <string>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/held_check.hpp"
#include "tests/host/rig_text.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::gauge {
namespace {

using test::ideal_jack;
using test::replaced;
using test::with_cell;

TableOptions unusual() {
  TableOptions o{};
  o.degree = 2;
  o.through_origin = true;
  o.points = 9;
  o.valid_s = 86400 * 30;
  o.declared = {.reference_ppm = 700,
                .resolution_n = 1.0,
                .temperature_k = 12.5,
                .temperature_ppm_per_k = 80.0,
                .sensor_ppm = 250.0,
                .friction_scatter_percent = 5.5,
                .other_ppm = 33.0};
  o.limits = read_class_limits(shipped_class_limits(), "iso7500_limits.json");
  return o;
}

std::string json_of(const std::string& runs, const TableOptions& o) {
  return to_json(make_table(read_runs(runs, "runs.csv", o.csv), o), {"runs.csv", "abc"});
}

TEST(TableFile, MadeAgainFromItsOwnOptionsItIsTheSameToTheByte) {
  const auto runs = with_cell(ideal_jack(3, 20.0), "1", 5000, 200000, "2027-05-04T00:00:00Z");
  for (const auto& o : {TableOptions{}, unusual()}) {
    const auto json = json_of(runs, o);
    EXPECT_EQ(json_of(runs, options_from_json(json, "table.json")), json);
  }
}

TEST(TableFile, AnOptionThatWasChangedGivesAnotherTable) {
  const auto runs = ideal_jack(3, 20.0);
  const auto json = json_of(runs, unusual());
  auto o = options_from_json(json, "table.json");
  EXPECT_EQ(o.degree, 2);
  EXPECT_EQ(o.points, 9);
  EXPECT_EQ(o.declared.reference_ppm, 700U);
  o.declared.sensor_ppm = 251.0;
  EXPECT_NE(json_of(runs, o), json);
}

TEST(TableFile, ABrokenOptionNamesFileAndField) {
  auto json = json_of(ideal_jack(3), unusual());
  const std::string from = "\"sensor_ppm\": 250.0";
  json.replace(json.find(from), from.size(), "\"sensor_ppm\": null");
  try {
    (void)options_from_json(json, "table.json");
    FAIL() << "accepted";
  } catch (const Problem& p) {
    EXPECT_TRUE(std::string{p.what()}.starts_with("table.json: field 'sensor_ppm' is null")) << p.what();
  }
}

// ---- what is signed is what was fitted

constexpr std::int64_t soon = 1777879800 + 86400;  // a day after the readings of ideal_jack

std::string refusal_of(const std::string& json, std::int64_t now_s = soon) {
  try {
    (void)read_sound(json, "table.json", now_s);
  } catch (const Problem& p) {
    EXPECT_EQ(p.exit(), Exit::refused);
    return p.what();
  }
  return "accepted";
}

// Whoever edits may write the digest anew.
std::string with_digest(std::string json, const std::string& field, const std::string& digest) {
  return json.replace(json.find("\"" + field + "\": \"") + field.size() + 5, 64, digest);
}
std::string digest_mended(const std::string& json) {
  const auto held = with_digest(json, "held_sha256", held_digest(from_json(json, "table.json")));
  return with_digest(held, "file_sha256", file_digest(held));
}

TEST(HeldCheck, WhatWasFittedIsSound) {
  for (const auto& o : {TableOptions{}, unusual()})
    EXPECT_EQ(refusal_of(json_of(ideal_jack(3, 20.0), o)), "accepted");
}

struct Edit {
  const char* name;
  const char* from;
  const char* to;
  const char* what;  // that is said once the digest was mended too
};
void PrintTo(const Edit& e, std::ostream* out) {
  *out << e.name;
}
class EditedTable : public testing::TestWithParam<Edit> {};

TEST_P(EditedTable, IsNotSigned) {
  const auto edited = replaced(json_of(ideal_jack(3), unusual()), GetParam().from, GetParam().to);
  const auto refusal = refusal_of(edited);
  EXPECT_NE(refusal.find("table.json: changed after the fit"), std::string::npos) << refusal;
  EXPECT_NE(refusal.find("; fit the runs again"), std::string::npos) << refusal;
  const auto mended = refusal_of(digest_mended(edited));
  EXPECT_NE(mended.find(GetParam().what), std::string::npos) << mended;
}

INSTANTIATE_TEST_SUITE_P(
    TableFile, EditedTable,
    testing::Values(Edit{"due", "2026-06-03T07:30:00Z", "2027-06-09T07:30:00Z", "more than 400 days after"},
                    Edit{"uncertainty", "\"uncertainty_ppm\": ", "\"uncertainty_ppm\": 1",
                         "changed after the fit: uncertainty_ppm is 1"},
                    Edit{"class_stated", "\"class_tenths\": 0", "\"class_tenths\": 10",
                         "changed after the fit: class_tenths is 10"},
                    // Identity is in no figure of the fit: the digest alone stands for it.
                    Edit{"jack", "\"jack_serial\": 1001", "\"jack_serial\": 1002", "accepted"},
                    Edit{"origin", "\"simulated\"", "\"hardware\"", "accepted"}),
    [](const auto& edit) { return std::string{edit.param.name}; });

// 1 N and the stated interpolation error from the curve is rounding; further is another table.
TEST(HeldCheck, APointOffItsCurveIsNotSigned) {
  const auto json = json_of(ideal_jack(3), unusual());
  const auto p = from_json(json, "table.json").increasing[0][4];
  const auto moved = [&](std::uint32_t by) {
    const std::string from = fmt::format("{},\n          {}\n", p.pressure_mbar, p.force_n);
    return digest_mended(
        replaced(json, from, fmt::format("{},\n          {}\n", p.pressure_mbar, p.force_n + by)));
  };
  EXPECT_EQ(refusal_of(moved(0)), "accepted");
  const auto refusal = refusal_of(moved(200));
  EXPECT_NE(refusal.find(fmt::format("changed after the fit: a_increasing has {} N at {} mbar",
                                     p.force_n + 200, p.pressure_mbar)),
            std::string::npos)
      << refusal;
}

TEST(HeldCheck, AFileWithoutItsDigestIsNotSigned) {
  const auto json = json_of(ideal_jack(3), {});
  EXPECT_NE(refusal_of(replaced(json, "held_sha256", "held_sha255")).find("it has no field 'held_sha256'"),
            std::string::npos);
  const auto bare = digest_mended(replaced(json, "\"fits\"", "\"fitz\""));
  EXPECT_NE(refusal_of(bare).find("figures of its fit are missing"), std::string::npos);
}

// What the jack does not hold is read by people: notes, lower limits, the budget's lines.
TEST(HeldCheck, NoFieldIsChangedByHand) {
  const auto json = json_of(ideal_jack(3, 20.0), unusual());
  for (const auto& [from, to] : {std::pair{"no ambient temperature", "ambient temperature"},
                                 {"\"llf_n\": ", "\"llf_n\": 1"},
                                 {"\"standard_n\": {", "\"standard_n\": {\"more\": 1,"},
                                 {"\"leverage\": 0.", "\"leverage\": 0.1"},
                                 {"\"lowest_initial_n\": ", "\"lowest_initial_n\": 1"}}) {
    EXPECT_NE(refusal_of(replaced(json, from, to)).find("changed after the fit: 'file_sha256'"),
              std::string::npos)
        << from;
  }
  std::string spaced = json;
  for (auto at = spaced.find('\n'); at != spaced.npos; at = spaced.find('\n', at + 2))
    spaced.replace(at, 1, "\r\n");
  EXPECT_EQ(refusal_of(spaced), "accepted") << "line ends are no change";
}

TEST(HeldCheck, ACalibrationOfTheFutureIsNotSigned) {
  const auto json = json_of(ideal_jack(3), {});
  EXPECT_EQ(refusal_of(json, 1777879800 - 86400), "accepted");
  EXPECT_NE(refusal_of(json, 1777879800 - 86401).find("in the future of this computer"), std::string::npos);
}

}  // namespace
}  // namespace strandproof::host::gauge
