#include "host-tool/check/trend.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
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

const char* explanations =
    "either the table no longer fits the jack (sensor, seal, hose: make a spot check, `gauge check`), or the "
    "k "
    "of the plans is not that of these strands (area and modulus of the reels, length, abutments)";

}  // namespace

std::vector<Slope> slopes(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision) {
  std::vector<Slope> found;
  for (const auto& stored : kept.find({.device = device, .table = revision})) {
    wire::Record r;
    if (!r.ParseFromString(stored.body) || !r.has_pull()) continue;
    const auto& p = r.pull();
    if (p.stiffness_seen_n_per_m() <= 0) continue;
    const auto sent = kept.instruction(device, p.instruction());
    wire::PullInstruction plan;
    if (!sent || !plan.ParseFromString(sent->body) || plan.stiffness_n_per_m() == 0) continue;
    found.push_back({device, revision, p.bed(), p.position(), p.reel(), stored.sequence,
                     static_cast<std::int64_t>(p.utc_s()),
                     static_cast<double>(p.stiffness_seen_n_per_m()) / plan.stiffness_n_per_m(),
                     plan.stiffness_ppm() * 1e-6});
  }
  return found;
}

Trend trend_of(const std::vector<Slope>& all, const TrendOptions& o) {
  Trend t;
  t.pulls = all.size();
  if (o.window < 2 || all.size() < o.window) return t;
  const std::span<const Slope> first{all.data(), o.window};
  const std::span<const Slope> last{all.data() + all.size() - o.window, o.window};
  t.first_mean = mean(first);
  t.last_mean = mean(last);
  for (const auto& s : last) t.plan_limit = std::max(t.plan_limit, s.plan_ratio);
  t.state = std::abs(t.last_mean - 1.0) <= t.plan_limit ? TrendState::steady : TrendState::off_plan;
  if (all.size() < 2 * o.window) return t;
  const auto freedom = static_cast<double>(2 * o.window - 2);
  t.scatter = std::sqrt((squares(first, t.first_mean) + squares(last, t.last_mean)) / freedom);
  const double error = t.scatter * std::sqrt(2.0 / static_cast<double>(o.window));
  t.moved_limit = std::max(o.moved_least, o.moved_deviations * error);
  if (!(std::abs(t.last_mean / t.first_mean - 1.0) <= t.moved_limit)) t.state = TrendState::moved;
  return t;
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
