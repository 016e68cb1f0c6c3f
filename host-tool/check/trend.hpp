// Plausibility in use: each pull shows the stiffness of its strand as the gauge table sees it, force over
// stroke; the plan's k says what it should be. The ratio of the two, pull after pull, shows a gauge table
// that no longer fits before its due date, with nothing but the pulls themselves.
//
// It can not tell a table that drifts from a plan whose k is wrong: both are named. A step from one bed or
// reel to the next speaks for k; a creep over beds and reels alike speaks for the table.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::check {

// A pull that reached the span of the slope.
struct Slope {
  std::uint32_t device, revision, bed, position, reel;
  std::uint64_t sequence;  // of its record
  std::int64_t utc_s;      // 0: clock not set
  double ratio;            // stiffness seen over stiffness of the instruction
  double plan_ratio;       // uncertainty of the instruction's stiffness, relative
};

// The pulls of a device on a table whose slope was seen and whose instruction the archive holds, in the order
// in which they were made: how many, and the ends that a trend is read from.
struct TableSlopes {
  std::size_t pulls = 0;
  std::vector<Slope> first;  // a window's
  std::vector<Slope> last;   // two windows'
};
TableSlopes slopes(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision,
                   std::size_t window);

enum class TrendState {
  too_few,  // no statement yet
  steady,
  off_plan,  // the mean of the last pulls departs from 1 by more than the plan's own uncertainty
  moved,     // the mean of the last pulls departs from that of the first ones on this table
};

struct TrendOptions {
  std::size_t window = 10;        // pulls of each mean
  double moved_least = 0.005;     // relative; a departure below it is never called one
  double moved_deviations = 3.0;  // and it must stand out of the scatter by so many standard errors
};

struct Trend {
  TrendState state = TrendState::too_few;
  std::size_t pulls = 0;
  double first_mean = 0.0, last_mean = 0.0;
  double scatter = 0.0;      // standard deviation of a single pull within the two windows
  double moved_limit = 0.0;  // what |last / first - 1| was held against
  double plan_limit = 0.0;   // what |last - 1| was held against
};

// Two windows that do not overlap are needed for `moved`, one for `off_plan`. The slopes were read with the
// window of the options.
Trend trend_of(const TableSlopes& slopes, const TrendOptions& options = {});
Trend trend_of(const std::vector<Slope>& all, const TrendOptions& options = {});
Trend trend_of(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision);

// One line for a person; for the two warnings with both explanations and what to do.
std::string text(const Trend& trend);
bool warns(const Trend& trend);

}  // namespace strandproof::host::check
