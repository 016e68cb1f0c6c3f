#include <fmt/core.h>

#include <algorithm>

#include "host-tool/base/files.hpp"
#include "host-tool/gauge/held_check.hpp"
#include "host-tool/gauge/run_rules.hpp"
#include "host-tool/report/calibration.hpp"
#include "host-tool/report/calibration_parts.hpp"
#include "host-tool/report/table_proof.hpp"

namespace strandproof::host::report {
namespace {

// The single figure holds from a fifth of the largest force; where less force is less certain, that too is
// said.
std::string uncertainty_text(const gauge::Table& t) {
  const gauge::BudgetLine* low = &t.worst;
  for (const auto& lines : t.budget) {
    if (lines.front().expanded_percent > low->expanded_percent) low = &lines.front();
  }
  const std::string headline = fmt::format("{:.2f} %", t.uncertainty_ppm / 1e4);
  if (low == &t.worst) return headline;
  return fmt::format("{} ({:.2f} % at {} kN)", headline, low->expanded_percent, kilonewton(low->force_n, 1));
}

std::vector<Fact> results(const gauge::Table& t) {
  const auto& a = t.increasing[0].points;
  const auto& b = t.increasing[1].points;
  const double low = std::max(a.front().force_n, b.front().force_n);
  const double high = std::min(a.back().force_n, b.back().force_n);
  const int tenths = t.iso_class.tenths;
  return {{"class when pulling, ISO 7500-1", tenths == 0 ? "not stated" : "class " + class_name(tenths)},
          {fmt::format("expanded uncertainty, k = {:.2f}", t.worst.coverage_factor), uncertainty_text(t)},
          {"force, kN", kilonewton(low, 1) + " to " + kilonewton(high, 1)},
          {"lowest initial force, kN", kilonewton(t.lowest_initial_n, 1)},
          {"calibrated", date_text(t.calibrated_s)},
          {"due", date_text(t.due_s)}};
}

// A note of the table, which is one line of a list, as a sentence.
std::string sentence(std::string note) {
  if (!note.empty() && note.front() >= 'a' && note.front() <= 'z')
    note.front() = static_cast<char>(note.front() - 'a' + 'A');
  return note + ".";
}

std::string issuer_text(const CalibrationInput& in) {
  const std::string who = in.issuer.empty() ? "______________________________" : in.issuer;
  return "Issued by " + who + "\n" +
         (in.accreditation.empty()
              ? "Not an accredited calibration."
              : "Accreditation, as the issuer states it and not checked here: " + in.accreditation);
}

Remarks statements(const gauge::Table& t) {
  Remarks r{"What this report states", {}};
  r.items.emplace_back(
      "Forces are those of the reference cell; the increasing branch is for pulling, the decreasing one for "
      "lowering "
      "and lift-off, never one for the other.");
  r.items.push_back(
      fmt::format("The uncertainty is {} the 2 % that practice of the trade allows (a rule of practice, not "
                  "of a standard).",
                  t.within_practice ? "within" : "ABOVE"));
  r.items.push_back(
      fmt::format("The first figure of the uncertainty holds from {} kN, a fifth of the largest force.",
                  kilonewton(gauge::judged_from * t.increasing[0].points.back().force_n, 1)));
  for (const auto& note : t.notes) r.items.push_back(sentence(note));
  r.items.emplace_back("The runs were fitted again for this report, and gave the table.");
  return r;
}

Remarks cautions() {
  return {
      "Cautions",
      {"Nobody beside or in line with the jack, the frame or a strand while it is loaded.",
       "A force within limits does not make a strand safe to approach.",
       "Withdraw the table and calibrate again after a failed check, a repair, a fall, or a change of "
       "sensor, "
       "seal, hose or jack.",
       "Local codes and the responsible engineer decide. This is evidence of what was measured, not a safety "
       "certificate."}};
}

void mark_origin(CalibrationSheet& s, gauge::Origin origin) {
  if (origin == gauge::Origin::hardware) {
    s.signatures = {{"Calibrated by", "role, name, date, signature"},
                    {"Checked by", "role, name, date, signature"},
                    {"Accepted for use by", "role, name, date, signature"}};
    return;
  }
  s.origin = "SIMULATED";
  s.origin_line = fmt::format("SIMULATED{} – NOT A CALIBRATION OF STEEL – CAN NOT BE SIGNED OFF",
                              origin == gauge::Origin::emulated ? " (EMULATED TARGET)" : "");
}

}  // namespace

std::string kilonewton(double n, int decimals) {
  return fmt::format("{:.{}f}", n / 1e3, decimals);
}

std::string bar(double mbar) {
  return fmt::format("{:.3f}", mbar / 1e3);
}

CalibrationSheet calibration_sheet(const CalibrationInput& in) {
  const auto [runs, table] = prove_table({in.runs, in.runs_name}, {in.table, in.table_name});
  CalibrationSheet s;
  s.title = "Calibration report";
  s.subject = fmt::format("Gauge table of stressing jack {}: force over pressure, channels A and B",
                          runs.jack_serial);
  s.issuer = issuer_text(in);
  mark_origin(s, runs.origin);
  s.results = results(table);
  s.unit = unit_grid(table);
  s.errors = errors_grid(table);
  s.runs = runs_grid(runs, table);
  s.residuals_title = "Deviation of the table from the reference, every reading";
  s.residuals_note =
      "▲ increasing (pulling)   ▽ decreasing (lowering, lift-off)   shaded: expanded uncertainty of the "
      "increasing "
      "branch";
  s.residuals = {residual_picture(runs, table, 0), residual_picture(runs, table, 1)};
  s.fits = fits_grid(table);
  s.points = points_grid(table);
  s.budget = budget_grid(table);
  s.statements = statements(table);
  s.cautions = cautions();
  s.digests = {{"SHA-256 of the runs, " + in.runs_name, sha256_hex(in.runs)},
               {"SHA-256 of the gauge table, " + in.table_name, sha256_hex(in.table)},
               {"Held digest, which gauge show names as well", gauge::held_digest(gauge::held(table))}};
  s.dated_s = table.calibrated_s;
  return s;
}

}  // namespace strandproof::host::report
