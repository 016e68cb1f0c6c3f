#include "sim/campaign/report.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "sim/campaign/results.hpp"

namespace strandproof::sim {
namespace {

constexpr double step = 1e-6;
constexpr std::size_t worst_kept = 10;

// By how it ended, then by the size of what the stop missed, then by number.
bool worse(const Outcome& a, const Outcome& b) {
  const End x = end_of(a);
  const End y = end_of(b);
  if (x != y) {
    return x < y;
  }
  const double p = std::abs(a.stop_error);
  const double q = std::abs(b.stop_error);
  return p != q ? p > q : a.pull < b.pull;
}

void keep_worst(std::vector<Outcome>& worst, const Outcome& o) {
  worst.insert(std::upper_bound(worst.begin(), worst.end(), o, worse), o);
  if (worst.size() > worst_kept) {
    worst.pop_back();
  }
}

void count_fault(Report& r, const Outcome& o, std::size_t end) {
  if (o.fault.empty()) {
    return;
  }
  FaultCount& f = r.faults[o.fault];
  ++f.drawn;
  if (o.fault_s >= 0.0) {
    ++f.began;
    ++f.ends[end];
    const bool noticed = o.cause != 0 && o.cause_s >= o.fault_s;
    f.noticed += noticed ? 1 : 0;
    f.bit += !noticed && !o.breach.empty() ? 1 : 0;
  }
}

void take(Report& r, const Outcome& o) {
  const auto end = static_cast<std::size_t>(end_of(o));
  ++r.pulls;
  r.virtual_s += o.duration_s;
  ++r.ends[end];
  if (o.cause != 0) {
    ++r.causes[o.cause];
  }
  if (!o.breach.empty()) {
    ++r.breaches[o.breach];
  }
  count_fault(r, o, end);
  if (o.settled) {
    r.stop_error.add(o.stop_error);
    r.accuracy.add(o.accuracy);
    r.locked_error.add(o.locked_error);
  }
  keep_worst(r.worst, o);
  if (!r.cells.empty()) {
    Cell& cell = r.cells[o.pull % r.cells.size()];
    ++cell.ends[end];
    if (o.settled) {
      cell.stop_error.add(o.stop_error);
    }
  }
}

}  // namespace

void Spread::add(double value) {
  const double bin = std::clamp(std::floor(value / step + 0.5), -1.0 * half, 1.0 * half);
  ++bins_[static_cast<std::size_t>(static_cast<int>(bin) + half)];
  least_ = count_ == 0 ? value : std::min(least_, value);
  most_ = count_ == 0 ? value : std::max(most_, value);
  ++count_;
}

double Spread::quantile(double part) const {
  const auto wanted = static_cast<std::uint64_t>(std::ceil(part * static_cast<double>(count_)));
  std::uint64_t so_far = 0;
  for (std::size_t i = 0; i < bins_.size(); ++i) {
    so_far += bins_[i];
    if (so_far > 0 && so_far >= wanted) {
      return (static_cast<double>(i) - half) * step;
    }
  }
  return 0.0;
}

double Spread::size_quantile(double part) const {
  const auto wanted = static_cast<std::uint64_t>(std::ceil(part * static_cast<double>(count_)));
  std::uint64_t so_far = bins_[half];
  for (std::size_t i = 0; i <= half; ++i) {
    so_far += i == 0 ? 0 : bins_[half - i] + bins_[half + i];
    if (so_far > 0 && so_far >= wanted) {
      return static_cast<double>(i) * step;
    }
  }
  return 0.0;
}

std::vector<std::uint64_t> Spread::bars(double low, double high, std::size_t count) const {
  std::vector<std::uint64_t> found(count);
  for (std::size_t i = 0; i < bins_.size(); ++i) {
    const double share = ((static_cast<double>(i) - half) * step - low) / (high - low);
    if (bins_[i] != 0 && share >= 0.0 && share <= 1.0) {
      found[std::min(count - 1, static_cast<std::size_t>(share * static_cast<double>(count)))] += bins_[i];
    }
  }
  return found;
}

Report reduce(const Campaign& campaign, const std::string& results) {
  Report r;
  r.name = campaign.name;
  r.seed = campaign.seed;
  for (const Sweep& sweep : campaign.sweeps) {
    r.swept.emplace_back(sweep.key->name);
  }
  for (std::uint32_t i = 0; !campaign.sweeps.empty() && i < campaign.cells(); ++i) {
    r.cells.push_back({cell_values(campaign, i), {}, {}});
  }
  std::uint32_t expected = 0;
  r.title = read_results(results, [&](const Outcome& o) {
    if (o.pull != expected++) {
      throw std::runtime_error(results + ": pull " + std::to_string(expected - 1) +
                               " is missing; run the campaign to its end, the same command goes on");
    }
    take(r, o);
  });
  if (r.title != results_title(campaign, {})) {
    throw std::runtime_error(results + ": holds results of another campaign or size; run this one");
  }
  if (expected != campaign.pulls) {
    throw std::runtime_error(results + ": holds " + std::to_string(expected) + " of " +
                             std::to_string(campaign.pulls) + " pulls; the same command goes on");
  }
  return r;
}

}  // namespace strandproof::sim
