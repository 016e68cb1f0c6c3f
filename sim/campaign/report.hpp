// What a campaign comes to, reduced from its results file alone: the same bytes wherever the pulls were run.
// Memory does not grow with the pulls.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "sim/campaign/campaign.hpp"
#include "sim/campaign/outcome.hpp"

namespace strandproof::sim {

// Counts in steps of a millionth up to 5 % either way; what lies beyond stands in the last step and is told.
class Spread {
 public:
  void add(double value);
  [[nodiscard]] std::uint64_t count() const { return count_; }
  [[nodiscard]] double least() const { return least_; }
  [[nodiscard]] double most() const { return most_; }
  // To a millionth: the smallest value that at least this part of all do not exceed. 0 of an empty one.
  [[nodiscard]] double quantile(double part) const;
  // The same of the sizes, without sign.
  [[nodiscard]] double size_quantile(double part) const;
  // Counts between two values, in equal steps.
  [[nodiscard]] std::vector<std::uint64_t> bars(double low, double high, std::size_t count) const;

 private:
  static constexpr int half = 50'000;
  std::vector<std::uint64_t> bins_ = std::vector<std::uint64_t>(2 * half + 1);
  std::uint64_t count_ = 0;
  double least_ = 0.0, most_ = 0.0;
};

using Ends = std::array<std::uint64_t, end_count>;

struct FaultCount {
  std::uint64_t drawn = 0;
  std::uint64_t began = 0;    // the rest never came to their moment, and prove nothing
  Ends ends{};                // of those that began
  std::uint64_t noticed = 0;  // a row acted, from the tick on in which the fault began
  std::uint64_t bit = 0;      // of those that were not noticed: a limit was breached all the same
};

struct Cell {
  std::vector<double> at;  // SI, of the swept keys
  Ends ends{};
  Spread stop_error;
};

struct Report {
  std::string name;
  std::string title;  // of the results file
  std::uint64_t seed = 0;
  std::uint64_t pulls = 0;
  double virtual_s = 0.0;
  Ends ends{};
  std::map<std::uint32_t, std::uint64_t> causes;
  std::map<std::string, FaultCount> faults;
  std::map<std::string, std::uint64_t> breaches;
  Spread stop_error, accuracy, locked_error;
  std::vector<Cell> cells;         // none without a sweep
  std::vector<Outcome> worst;      // ten at most, worst first
  std::vector<std::string> swept;  // names of the keys
};

// Reads the results file. Throws std::runtime_error as read_results does, and for a file that does not hold
// every pull of this campaign.
Report reduce(const Campaign& campaign, const std::string& results);

// `replay`: the command that plays a pull again but for the pull's number at its end.
std::string report_json(const Report& report, const std::string& replay);
std::string report_html(const Report& report, const std::string& replay);
// A few lines for the terminal.
std::string report_text(const Report& report, const std::string& replay);

}  // namespace strandproof::sim
