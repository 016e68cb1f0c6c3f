#include <fmt/core.h>

#include <nlohmann/json.hpp>

#include "host-tool/base/files.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/report/calibration.hpp"

namespace strandproof::host::cli {
namespace {

report::Paper read_paper(const std::string& text) {
  if (text == "a4") return report::Paper::a4;
  if (text == "letter") return report::Paper::letter;
  throw bad_input("--paper is neither a4 nor letter; give one of them");
}

bool as_pdf(const std::string& output) {
  if (output.ends_with(".pdf")) return true;
  if (output.ends_with(".html")) return false;
  throw bad_input(output + ": ends neither in .pdf nor in .html; the ending says what is written");
}

}  // namespace

Exit gauge_report(const Common& common, const GaugeReport& o) {
  const auto paper = read_paper(o.paper);
  const bool pdf = as_pdf(o.output);
  const auto sheet = report::calibration_sheet({.runs = read_file(o.runs),
                                                .runs_name = o.runs,
                                                .table = read_file(o.table),
                                                .table_name = o.table,
                                                .issuer = o.issuer,
                                                .accreditation = o.accreditation});
  const std::string page = pdf ? report::calibration_pdf(sheet, paper) : report::calibration_html(sheet);
  write_output(o.output, page, pdf ? "%PDF-" : "<!doctype html>", pdf ? "a PDF" : "a page");
  if (common.json) {
    const nlohmann::json j{
        {"written", o.output}, {"sha256", sha256_hex(page)}, {"simulated", !sheet.origin.empty()}};
    fmt::print("{}\n", j.dump());
    return Exit::good;
  }
  if (!sheet.origin_line.empty()) fmt::print("{}\n", sheet.origin_line);
  for (const auto& fact : sheet.results) fmt::print("  {}: {}\n", fact.label, fact.value);
  fmt::print("written: {}, SHA-256 {}\n", o.output, sha256_hex(page));
  return Exit::good;
}

}  // namespace strandproof::host::cli
