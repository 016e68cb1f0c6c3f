#include "host-tool/capture/capture.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "host-tool/base/catalogue.hpp"

namespace strandproof::host::capture {
namespace {

constexpr std::uint32_t rig_state = 12;           // of proto/catalogue.def
constexpr std::uint64_t zero_wait_ms = 30'000;    // half a minute after unloading, as ISO 376 and ASTM E74 do
constexpr std::uint64_t cell_settles_ms = 1'000;  // an instrument averages: it shows the move a while longer
constexpr std::uint64_t unsteady_ms = 20'000;     // a cell that moves for so long spoils the reading
constexpr double steady_share = 0.0005;   // of the largest set point: spread of ten values of the cell
constexpr double exercised_share = 0.98;  // of the largest set point
constexpr double unloaded_share = 0.02;   // of the largest force or pressure so far
constexpr double no_load_share = 0.005;   // common practice; the fit refuses more
constexpr double same_top_share = 0.93;   // of the moving ram's pressure at the top; at rest it falls

std::string kn(double force_n) {
  return fmt::format("{:.2f} kN", force_n / 1e3);
}

}  // namespace

Capture::Capture(Settings settings, const std::vector<Reading>& done)
    : settings_{std::move(settings)}, steps_{steps(settings_)}, accepted_{static_cast<int>(done.size())} {
  for (const auto& reading : done) {
    if (reading.step.kind == Kind::up && reading.step.set_point_n == settings_.set_points_n.back()) {
      top_mbar_ = reading.pressure_mbar[0];
    }
  }
  if (!done.empty()) at_ = static_cast<std::size_t>(settings_.exercises) + done.size();
  if (!done.empty() && at_ < steps_.size()) {
    note(fmt::format("{} readings are on file; after one exercise it goes on with {}", done.size(),
                     name(steps_[at_])));
    steps_.insert(steps_.begin() + static_cast<std::ptrdiff_t>(at_),
                  Step{Kind::exercise, 0, settings_.set_points_n.back()});
  }
  begin_step();
  tell(Motion::still, 0, "waiting for the jack");
}

int Capture::readings_wanted() const {
  return static_cast<int>(
      std::count_if(steps_.begin(), steps_.end(), [](const Step& s) { return s.kind != Kind::exercise; }));
}

std::vector<Event> Capture::take() {
  return std::exchange(events_, {});
}

// ---- what comes in

void Capture::jack(const JackSample& sample) {
  jack_ = sample;
  highest_mbar_ = std::max(highest_mbar_, sample.pressure_mbar[0]);
  approach_.add(sample);
  if (approach_.moving() != Motion::still) {
    if (!entries_.empty()) note("the ram moved before both values were entered; the first one is forgotten");
    entries_.clear();
  }
  if (approach_.still_ms() < cell_settles_ms) cell_.clear();
  turn();
}

void Capture::jack_lost() {
  if (!jack_) return;
  jack_.reset();
  approach_.start_over();
  entries_.clear();
  begin_step();
  tell(Motion::still, 0, "the line to the jack is lost: let go, leave the load as it is, mend the line");
}

void Capture::cell(double force_n) {
  cell_n_ = force_n;
  cell_.add(force_n);
  if (!done() && !going_back_) {
    const double along = steps_[at_].kind == Kind::down ? -force_n : force_n;
    furthest_n_ = std::max(furthest_n_, along);
  }
}

void Capture::cell_lost() {
  if (!cell_n_) return;
  cell_n_.reset();
  cell_.clear();
  note("the reference cell's line is silent: nothing is read until it speaks again; look at cable and cell");
  turn();
}

void Capture::typed(double force_n) {
  if (instruction_.entries == 0) return note("no value is wanted now");
  entries_.push_back(force_n);
  if (entries_.size() == 2 && entries_[0] != entries_[1]) {
    note(fmt::format("{:.10g} N and {:.10g} N differ; read the cell again and enter it twice", entries_[0],
                     entries_[1]));
    entries_.clear();
  }
  turn();
}

// ---- what follows

void Capture::turn() {
  if (done() || !jack_ || !in_rig_mode()) return;
  if (!settings_.typed && !cell_n_)
    return tell(Motion::still, 0, "wait: the reference cell's line is silent");
  const Step step = steps_[at_];
  if (step.kind == Kind::exercise) return exercise(step.set_point_n);
  if (step.kind == Kind::zero) return zero(step);
  point(side_of(step));
}

bool Capture::in_rig_mode() {
  if (jack_->state == rig_state) return true;
  approach_.start_over();
  begin_step();
  const auto cause = texts::cause(jack_->cause);
  tell(Motion::still, 0,
       fmt::format("the jack is in {}{}: choose RIG at the pendant and confirm it there",
                   texts::state(jack_->state), cause.empty() ? "" : " (" + cause + ")"));
  return false;
}

// A force that stands still; until then it tells what is missing.
std::optional<double> Capture::held_force(const std::string& ask, std::size_t entries) {
  if (settings_.typed && entries_.size() >= entries) return entries_.front();
  if (settings_.typed) {
    const auto left = static_cast<int>(entries - entries_.size());
    tell(Motion::still, 0, entries_.empty() ? ask : "type it once more, read afresh", left);
    return std::nullopt;
  }
  const auto steady = cell_.steady(steady_share * top_n());
  if (!steady) tell(Motion::still, 0, "hold: the reading is taken when the cell stands still");
  return steady;
}

bool Capture::at_top(int top) {
  if (!settings_.typed) return *cell_n_ >= exercised_share * top;
  if (!at_rest() || approach_.last_move() != Motion::up) return false;
  const auto force = held_force(
      fmt::format("exercise: type the cell's value; if it is below {}, go on up", kn(exercised_share * top)),
      1);
  entries_.clear();
  if (force && *force < exercised_share * top) note(fmt::format("{}: go on up", kn(*force)));
  return force && *force >= exercised_share * top;
}

void Capture::exercise(int top) {
  if (!loaded_) {
    if (approach_.last_move() != Motion::up || !at_rest() || !settings_.typed) {
      tell(Motion::up, top, fmt::format("exercise: go up to {}, then let go", kn(top)));
    }
    loaded_ = at_top(top);
    if (!loaded_) return;
  }
  if (unloaded() && approach_.last_move() == Motion::down && at_rest()) {
    note("exercised");
    return next();
  }
  tell(Motion::down, 0, "exercise: lower to no load, then let go");
}

// Where the cell has no line of its own, by the pressure; the person's entry decides in the end.
bool Capture::unloaded() const {
  return settings_.typed ? jack_->pressure_mbar[0] <= unloaded_share * highest_mbar_
                         : *cell_n_ <= unloaded_share * top_n();
}

void Capture::zero(const Step& step) {
  wait_s_ = 0;
  if (approach_.last_move() == Motion::up || approach_.moving() != Motion::still || !unloaded()) {
    return tell(Motion::down, 0, "zero: lower to no load, let go, then touch nothing for 30 s");
  }
  const auto off = [&](double force) {
    return fmt::format(
        "zero: {} is more than 0.5 % of the largest force: lower to no load; if nothing loads the cell, its "
        "zero is off: do not tare, have it looked at",
        kn(force));
  };
  const auto much = [&](double force) { return std::abs(force) > no_load_share * top_n(); };
  if (!settings_.typed && much(*cell_n_)) return tell(Motion::down, 0, off(*cell_n_));
  if (approach_.still_ms() < zero_wait_ms) {
    wait_s_ = static_cast<int>((zero_wait_ms - approach_.still_ms()) / 1'000) + 1;
    return tell(Motion::still, 0, "zero: touch nothing; it is read 30 s after the ram came to rest");
  }
  const auto force = held_force("zero: type the cell's value without load; do not tare", 2);
  const auto rest = approach_.rest();
  if (!force || !rest) return;
  entries_.clear();
  if (much(*force)) {
    events_.push_back({Event::What::rejected, off(*force), std::nullopt});
    return tell(Motion::down, 0, off(*force));
  }
  accept(step, *rest, *force);
}

double Capture::Side::past(double force_n) const {
  return toward == Motion::up ? force_n - step.set_point_n : step.set_point_n - force_n;
}

Capture::Side Capture::side_of(const Step& step) const {
  const bool up = step.kind == Kind::up;
  return {step, capture::band_n(settings_, step), up ? Motion::up : Motion::down,
          up ? Motion::down : Motion::up};
}

// Far enough back for the approach to begin. The decreasing run begins at the largest force, wherever it came
// from.
bool Capture::returned(const Side& side) const {
  if (side.away == Motion::up) {
    return settings_.typed ? approach_.highest_mbar() >= same_top_share * top_mbar_
                           : *cell_n_ >= exercised_share * top_n();
  }
  if (approach_.last_move() != side.away || approach_.travelled_um() < Approach::least_travel_um)
    return false;
  return settings_.typed || side.short_of(*cell_n_);
}

void Capture::go_on(const Side& side) {
  tell(side.toward, side.step.set_point_n,
       fmt::format("{} to {} (within {:.2f} kN), slowly for the last second, then let go",
                   side.toward == Motion::up ? "go up" : "come down", kn(side.step.set_point_n),
                   side.band_n / 1e3));
}

void Capture::go_back(const Side& side) {
  if (side.away == Motion::up) {
    return tell(Motion::up, settings_.set_points_n.back(),
                fmt::format("go up to the largest force, {}, then come down to {}", kn(top_n()),
                            kn(side.step.set_point_n)));
  }
  const double to = std::max(0.0, side.step.set_point_n - 3.0 * side.band_n);
  tell(Motion::down, static_cast<int>(to),
       fmt::format("lower to {} or less, then come up to {} again", kn(to), kn(side.step.set_point_n)));
}

void Capture::spoil(const Side& side, std::string why) {
  approach_.start_over();
  entries_.clear();
  going_back_ = true;
  go_back(side);
  events_.push_back({Event::What::rejected,
                     fmt::format("{}: {}; {}", name(side.step), why, instruction_.text), std::nullopt});
}

void Capture::point(const Side& side) {
  if (going_back_) {
    if (!returned(side)) return go_back(side);
    going_back_ = under_way_ = false;
    furthest_n_ = none;
  }
  under_way_ = under_way_ || approach_.moving() == side.toward;
  const double furthest = side.toward == Motion::up ? furthest_n_ : -furthest_n_;
  if (!settings_.typed && under_way_ && side.beyond(furthest)) {
    return spoil(side, fmt::format("{} is past the band", kn(furthest)));
  }
  if (!at_rest() || !under_way_) return go_on(side);
  if (approach_.last_move() != side.toward) return spoil(side, "the ram came back to it");
  if (!settings_.typed && side.short_of(*cell_n_)) return go_on(side);
  const auto force = held_force(
      fmt::format("type the cell's value; if it is not yet {}, go on", kn(side.step.set_point_n)), 2);
  if (force) return read_point(side, *force);
  if (!settings_.typed && approach_.still_ms() > unsteady_ms) {
    spoil(side, fmt::format("the cell does not stand still (by {:.0f} N); look for a leak or a bad contact",
                            cell_.spread()));
  }
}

void Capture::read_point(const Side& side, double force) {
  entries_.clear();
  if (side.beyond(force)) return spoil(side, fmt::format("{} is past the band", kn(force)));
  if (side.short_of(force)) {
    note(fmt::format("{} is not yet {}", kn(force), kn(side.step.set_point_n)));
    return go_on(side);
  }
  if (approach_.travelled_um() < Approach::least_travel_um) {
    return spoil(side, "the ram has hardly moved toward it, so its friction is not that of a moving ram");
  }
  if (!approach_.stop()) return spoil(side, approach_.why());
  accept(side.step, *approach_.stop(), force);
}

void Capture::accept(const Step& step, const Stop& stop, double force_n) {
  const Reading r{step, stop.pressure_mbar, force_n, stop.stroke_um, stop.oil_c};
  if (step.kind == Kind::up && step.set_point_n == settings_.set_points_n.back())
    top_mbar_ = r.pressure_mbar[0];
  ++accepted_;
  events_.push_back({Event::What::reading, fmt::format("{}: {}", name(step), kn(force_n)), r});
  next();
}

// An exercise says nothing about the way to the next set point.
void Capture::next() {
  if (steps_[at_].kind == Kind::exercise) approach_.start_over();
  ++at_;
  begin_step();
  if (done()) return tell(Motion::down, 0, "all readings are taken: lower to no load and leave the rig mode");
  turn();
}

void Capture::begin_step() {
  loaded_ = under_way_ = false;
  furthest_n_ = none;
  wait_s_ = 0;
  going_back_ =
      !done() && steps_[at_].kind == Kind::down && !(approach_.highest_mbar() >= same_top_share * top_mbar_);
}

void Capture::tell(Motion move, int to_n, std::string text, int entries) {
  instruction_ = {move, to_n, entries, std::move(text)};
}

}  // namespace strandproof::host::capture
