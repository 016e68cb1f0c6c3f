// The table's file keeps all that makes the table again: options back, and the same bytes.
#include "host-tool/gauge/table_file.hpp"

#include <gtest/gtest.h>

#include <string>

#include "host-tool/base/problem.hpp"
#include "tests/host/rig_text.hpp"

namespace strandproof::host::gauge {
namespace {

using test::ideal_jack;
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

}  // namespace
}  // namespace strandproof::host::gauge
