#include "host-tool/capture/approach.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace strandproof::host::capture {
namespace {

// Outputs of Telemetry (proto/SPEC.md).
constexpr std::uint32_t fast_stage = 1U << 1U, advance_valve = 1U << 2U, lower_valve = 1U << 3U;

constexpr std::uint64_t gap_ms = 200;       // without a sample: nobody knows what the ram did
constexpr std::uint64_t kept_ms = 4'000;    // of samples
constexpr std::uint64_t moving_ms = 1'500;  // longest window of the moving ram
constexpr std::uint64_t least_moving_ms = 200;
constexpr std::uint64_t begin_ms =
    300;                                // after a change of stage: pump, valve and friction come to their own
constexpr std::uint64_t shut_ms = 150;  // a valve may need 40 ms, its spool 5, and a pressure is a mean of 16
constexpr double stop_early_ms = -50.0, stop_late_ms = 100.0;  // about the first sample with the valve shut
constexpr double steady_share_s = 0.02;  // of the pressure in 1 s; friction that lets go is 1 % or less
constexpr double steady_mbar_s = 500.0;  // noise of the slope at low pressure

// Straight line through a channel's pressure over the time from the stop, ms.
struct Line {
  double at_stop = 0.0, per_ms = 0.0;
  double count = 0.0;
  [[nodiscard]] double at(double ms) const { return at_stop + per_ms * ms; }
};

using Samples = std::vector<const JackSample*>;

double since(const JackSample& s, std::uint64_t stop_ms) {
  return static_cast<double>(static_cast<std::int64_t>(s.ms - stop_ms));
}

Line fit(const Samples& samples, std::size_t channel, std::uint64_t stop_ms) {
  const auto n = static_cast<double>(samples.size());
  double mean_t = 0.0, mean_p = 0.0;
  for (const auto* s : samples) {
    mean_t += since(*s, stop_ms) / n;
    mean_p += s->pressure_mbar[channel] / n;
  }
  double tt = 0.0, tp = 0.0;
  for (const auto* s : samples) {
    const double t = since(*s, stop_ms) - mean_t;
    tt += t * t;
    tp += t * (s->pressure_mbar[channel] - mean_p);
  }
  const double slope = tp / tt;
  return {mean_p - slope * mean_t, slope, n};
}

// Where the lines of the moving and the resting ram cross. Both channels together: they stop at one time.
double crossing_ms(const std::array<Line, 2>& moving, const std::array<Line, 2>& resting) {
  const double apart = resting[0].at_stop + resting[1].at_stop - moving[0].at_stop - moving[1].at_stop;
  const double slopes = moving[0].per_ms + moving[1].per_ms - resting[0].per_ms - resting[1].per_ms;
  const double at = apart / slopes;
  return std::isfinite(at) ? std::clamp(at, stop_early_ms, stop_late_ms) : 0.0;
}

// Both lines tell the pressure at the stop; each counts as much as its samples.
double at_stop(const Line& moving, const Line& resting, double ms) {
  return (moving.count * moving.at(ms) + resting.count * resting.at(ms)) / (moving.count + resting.count);
}

}  // namespace

Motion motion(const JackSample& s) {
  if ((s.outputs & advance_valve) != 0) return Motion::up;
  return (s.outputs & lower_valve) != 0 ? Motion::down : Motion::still;
}

void Approach::start_over() {
  *this = {};
}

void Approach::add(const JackSample& s) {
  if (!samples_.empty() && (s.ms <= samples_.back().ms || s.ms - samples_.back().ms > gap_ms)) start_over();
  const Motion now = motion(s);
  const Motion before = moving();
  if (now != Motion::still) {
    if (now != last_) turned_um_ = s.stroke_um;
    last_ = now;
    found_.reset();
    why_.clear();
  } else if (before != Motion::still || samples_.empty()) {
    stopped_ms_ = s.ms;
  }
  samples_.push_back(s);
  highest_ = std::max(highest_, s.pressure_mbar[0]);
  while (s.ms - samples_.front().ms > kept_ms) samples_.pop_front();
  const bool to_read = now == Motion::still && last_ != Motion::still && !found_ && why_.empty();
  if (to_read && s.ms - stopped_ms_ >= rest_ms) read_stop();
}

Motion Approach::moving() const {
  return samples_.empty() ? Motion::still : motion(samples_.back());
}

std::uint64_t Approach::still_ms() const {
  return samples_.empty() || moving() != Motion::still ? 0 : samples_.back().ms - stopped_ms_;
}

double Approach::travelled_um() const {
  if (last_ == Motion::still) return 0.0;
  const double gone = samples_.back().stroke_um - turned_um_;
  return last_ == Motion::up ? gone : -gone;
}

// The last samples before the stop, all with the same valves and stage, the first moments after a change left
// out.
void Approach::read_stop() {
  Samples before, after;
  std::uint32_t outputs = 0;
  std::uint64_t began_ms = stopped_ms_;
  for (auto s = samples_.rbegin(); s != samples_.rend(); ++s) {
    if (s->ms >= stopped_ms_) {
      if (s->ms >= stopped_ms_ + shut_ms) after.push_back(&*s);
      continue;
    }
    if (before.empty()) outputs = s->outputs;
    if (((s->outputs ^ outputs) & (fast_stage | advance_valve | lower_valve)) != 0) break;
    began_ms = s->ms;
    if (s->ms + moving_ms >= stopped_ms_) before.push_back(&*s);
  }
  std::erase_if(before, [&](const JackSample* s) { return s->ms < began_ms + begin_ms; });
  if (before.size() < 5 || before.front()->ms - before.back()->ms < least_moving_ms) {
    why_ = "the ram moved too shortly at one speed before it stopped; creep for at least half a second";
    return;
  }
  std::array<Line, 2> moving, resting;
  for (std::size_t c = 0; c < 2; ++c) {
    moving[c] = fit(before, c, stopped_ms_);
    resting[c] = fit(after, c, stopped_ms_);
    if (std::abs(resting[c].per_ms) * 1e3 > steady_share_s * resting[c].at_stop + steady_mbar_s) {
      why_ = "the pressure does not stand still once the ram is at rest; look for a leak, bleed, warm up";
      return;
    }
  }
  const double ms = crossing_ms(moving, resting);
  found_ = mean(after);
  found_->from = last_;
  for (std::size_t c = 0; c < 2; ++c) found_->pressure_mbar[c] = at_stop(moving[c], resting[c], ms);
}

Stop Approach::mean(const std::vector<const JackSample*>& samples) const {
  Stop m{.from = last_, .ms = stopped_ms_};
  const auto n = static_cast<double>(samples.size());
  for (const auto* s : samples) {
    for (std::size_t c = 0; c < 2; ++c) m.pressure_mbar[c] += s->pressure_mbar[c] / n;
    m.stroke_um += s->stroke_um / n;
    m.oil_c += s->oil_c / n;
  }
  return m;
}

std::optional<Stop> Approach::rest() const {
  if (still_ms() < rest_ms) return std::nullopt;
  Samples last;
  for (const auto& s : samples_) {
    if (s.ms + rest_ms >= samples_.back().ms) last.push_back(&s);
  }
  return mean(last);
}

}  // namespace strandproof::host::capture
