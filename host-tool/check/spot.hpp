// A spot run: a few set points against a reference cell, to see whether the active gauge table still fits the
// jack. It judges; it mends nothing: what drifts is calibrated again.
//
// For each channel and set point, e = (force of the table - reference) / reference. The limits:
//   pass       |e| within the table's expanded uncertainty (k = 2), and never beyond 2 %. Below a fifth of
//   the
//              table's largest force that uncertainty is the one in N of the fifth: there the table's single
//              figure ends
//   drift      beyond it, within 2 %: the force is still inside the rule of practice, the table's statement
//              is not
//   withdraw   beyond 2 % at one point of one channel, or a channel's zero off by more than what calibration
//              runs may hold (gauge::zero_limit_mbar); both common practice
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "host-tool/gauge/runs.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::check {

// Numbers as the archive keeps them (HistoryEntry::outcome).
enum class Verdict : std::uint32_t { pass = 1, drift = 2, withdraw = 3 };

inline constexpr double withdraw_ratio = 0.02;  // the 2 % rule of practice

struct Spot {
  int set_point_n;
  double reference_n;
  std::array<double, 2> shown_n;  // by the table, channels A and B
  std::array<double, 2> error;    // relative
  double pass_ratio;              // the limit that held here
};

struct Judgement {
  Verdict verdict;
  double pass_ratio;                // the limit from a fifth of the largest force
  std::vector<Spot> spots;          // in the order in which they were taken
  std::array<double, 2> zero_mbar;  // the worst reading of each channel without load
  std::int64_t first_taken_s;       // UTC; pulls made later are not proved by this run
  double worst_error;               // of all, with its sign
};

// How far this channel (0: A, 1: B) may read from zero without load, mbar.
double zero_limit_mbar(const gauge::HeldTable& table, std::size_t channel);

// Throws Problem (refused): made for another jack, other sensors or another origin than the table; taken
// before the calibration, or more than 10 minutes after now_s (UTC); with a reference cell that is not
// declared, was overdue, has another range than the forces or is known less well than the table; fewer than
// three set points, none at or below 40 % or none at or above 80 % of the table's largest force; a reading
// outside the table; no zero reading; a table that states no uncertainty, against which nothing can be
// judged.
Judgement judge(const gauge::Runs& runs, const gauge::HeldTable& table, std::int64_t now_s);

std::string verdict_text(Verdict verdict);  // "PASS", "DRIFT", "WITHDRAW"
std::string advice(Verdict verdict);        // what to do

// The points and limits of a judgement as one JSON object, for the archive.
std::string to_json(const Judgement& judgement);

}  // namespace strandproof::host::check
