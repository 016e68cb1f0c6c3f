// The parts of a calibration report that are worked out of the runs and their table.
#pragma once

#include <string>

#include "host-tool/gauge/runs.hpp"
#include "host-tool/gauge/table.hpp"
#include "host-tool/report/calibration.hpp"

namespace strandproof::host::report {

// Every reading, a row a set point and a group of columns a series. Where that is more than a page takes
// (over 5 series, 14 set points, or repeats within a series): means by set point and direction, or by tenths
// of the largest force; title and note then say so, and how many readings there are.
Grid runs_grid(const gauge::Runs& runs, const gauge::Table& table);

// Deviation of the table from the reference in N over the force in kN for one channel (0: A, 1: B), both
// directions, and the band of the expanded uncertainty where it is stated. Every reading is drawn.
Picture residual_picture(const gauge::Runs& runs, const gauge::Table& table, std::size_t channel);

// Force of the table at a reading's pressure less its reference, N. At the ends, where the table's whole mbar
// begin a little inside the readings, that of the fitted curve.
double deviation_n(const gauge::RunRow& row, const gauge::Table& table, std::size_t channel);

Grid unit_grid(const gauge::Table& table);    // jack, sensors, reference cell
Grid errors_grid(const gauge::Table& table);  // against the limits of the classes, with their edition
Grid fits_grid(const gauge::Table& table);
Grid points_grid(const gauge::Table& table);
Grid budget_grid(const gauge::Table& table);  // at the worst place

// Numbers as the page shows them.
std::string kilonewton(double n, int decimals = 3);
std::string bar(double mbar);               // to 1 mbar
std::string date_text(std::int64_t utc_s);  // of UTC
std::string class_name(int tenths);         // 5 is "0.5", 0 the "00" of ISO 376

}  // namespace strandproof::host::report
