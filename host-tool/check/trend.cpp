#include "host-tool/check/trend.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <span>

#include "strandproof/wire.pb.h"

namespace strandproof::host::check {
namespace {

double mean(std::span<const Slope> some) {
  double sum = 0.0;
  for (const auto& s : some) sum += s.ratio;
  return sum / static_cast<double>(some.size());
}

double squares(std::span<const Slope> some, double about) {
  double sum = 0.0;
  for (const auto& s : some) sum += (s.ratio - about) * (s.ratio - about);
  return sum;
}

Slope slope_of(const archive::SeenSlope& s, std::uint32_t device, std::uint32_t revision) {
  wire::PullInstruction plan;
  const bool read = plan.ParseFromString(s.instruction);
  return {device,
          revision,
          s.bed,
          s.position,
          s.reel,
          s.sequence,
          s.utc_s,
          static_cast<double>(s.seen_n_per_m) / static_cast<double>(s.planned_n_per_m),
          read ? plan.stiffness_ppm() * 1e-6 : 0.0};
}

const char* explanations =
    "either the table no longer fits the jack (sensor, seal, hose: make a spot check, `gauge check`), or the "
    "k "
    "of the plans is not that of these strands (area and modulus of the reels, length, abutments)";

}  // namespace

TableSlopes slopes(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision,
                   std::size_t window) {
  TableSlopes t;
  t.pulls = kept.count_slopes(device, revision);
  if (t.pulls == 0) return t;
  const auto of = [&](const archive::SeenSlope& s) { return slope_of(s, device, revision); };
  std::ranges::transform(kept.slopes(device, revision, archive::End::oldest, window),
                         std::back_inserter(t.first), of);
  std::ranges::transform(kept.slopes(device, revision, archive::End::newest, 2 * window),
                         std::back_inserter(t.last), of);
  return t;
}

Trend trend_of(const TableSlopes& s, const TrendOptions& o) {
  Trend t;
  t.pulls = s.pulls;
  if (o.window < 2 || s.pulls < o.window) return t;
  const std::span first{s.first.begin(), o.window};
  const std::span last{s.last.end() - static_cast<std::ptrdiff_t>(o.window), o.window};
  t.first_mean = mean(first);
  t.last_mean = mean(last);
  for (const auto& one : last) t.plan_limit = std::max(t.plan_limit, one.plan_ratio);
  t.state = std::abs(t.last_mean - 1.0) <= t.plan_limit ? TrendState::steady : TrendState::off_plan;
  if (s.pulls < 2 * o.window) return t;
  const auto freedom = static_cast<double>(2 * o.window - 2);
  t.scatter = std::sqrt((squares(first, t.first_mean) + squares(last, t.last_mean)) / freedom);
  const double error = t.scatter * std::sqrt(2.0 / static_cast<double>(o.window));
  t.moved_limit = std::max(o.moved_least, o.moved_deviations * error);
  if (!(std::abs(t.last_mean / t.first_mean - 1.0) <= t.moved_limit)) t.state = TrendState::moved;
  return t;
}

Trend trend_of(const std::vector<Slope>& all, const TrendOptions& o) {
  const auto whole = static_cast<std::ptrdiff_t>(all.size());
  const auto window = static_cast<std::ptrdiff_t>(o.window);
  return trend_of(TableSlopes{.pulls = all.size(),
                              .first = {all.begin(), all.begin() + std::min(whole, window)},
                              .last = {all.end() - std::min(whole, 2 * window), all.end()}},
                  o);
}

Trend trend_of(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision) {
  constexpr TrendOptions usual;
  return trend_of(slopes(kept, device, revision, usual.window), usual);
}

std::string text(const Trend& t) {
  switch (t.state) {
    case TrendState::too_few:
      return fmt::format("force against slope: {} pulls on this table, too few to say", t.pulls);
    case TrendState::steady:
      return fmt::format("force against slope: steady over {} pulls, last ones {:.2f} % of the plan's k",
                         t.pulls, 100.0 * t.last_mean);
    case TrendState::off_plan:
      return fmt::format(
          "force against slope: the last pulls show {:.2f} % of the plan's k, stated within "
          "{:.1f} %: {}",
          100.0 * t.last_mean, 100.0 * t.plan_limit, explanations);
    default:
      return fmt::format(
          "force against slope: moved by {:+.2f} % since the first pulls on this table (limit "
          "{:.2f} %): {}",
          100.0 * (t.last_mean / t.first_mean - 1.0), 100.0 * t.moved_limit, explanations);
  }
}

bool warns(const Trend& t) {
  return t.state == TrendState::off_plan || t.state == TrendState::moved;
}

}  // namespace strandproof::host::check
