#include "sim/plant/runner.hpp"

#include <bit>
#include <utility>

#include "sim/plant/sensing.hpp"

namespace strandproof::plant {
namespace {

using M = Model;

// Beyond these within a tick it is run in fine steps.
constexpr double quick_pressure = 0.3e6;  // Pa
constexpr double quick_speed = 10e-3;     // m/s, and
constexpr double quick_change = 1e-3;     // m/s, by which the speed changes
constexpr double quick_spool = 0.02;      // of its travel, left to go
constexpr Miss steady{.F = 5.0, .p = 1e4};

// Below these a stretch of ticks is one step.
constexpr double calm_change = 5e-5;  // m/s
constexpr Miss calm{.F = 0.5, .p = 1e3};

// How far the spool that is farthest from its command has to go.
double spool_way(const State& s, const Acting& a) {
  const auto way = [&s](M::Index i, bool on) { return magnitude(s.y[i] - (on ? 1.0 : 0.0)); };
  return at_least(at_least(way(M::s_advance, a.advance), way(M::s_lower, a.lower)),
                  at_least(way(M::s_seat, a.seat), way(M::s_shut_off, a.shut_off)));
}

double change(const State& a, const State& b) {
  return magnitude(a.y[M::v] - b.y[M::v]);
}

bool far(double a, double b) {
  return !(magnitude(a - b) < quick_pressure);
}

bool quick(const State& before, const State& after) {
  return far(before.at.p_pump, after.at.p_pump) || far(before.at.p_cap, after.at.p_cap) ||
         far(before.at.p_rod, after.at.p_rod) || !(magnitude(after.y[M::v]) < quick_speed) ||
         !(change(before, after) < quick_change);
}

// What each of so many ticks adds on the straight line from one to the other.
Moving a_tick_of(const Moving& from, const Moving& to, int ticks) {
  using Figures = std::array<double, sizeof(Moving) / sizeof(double)>;
  const Figures a = std::bit_cast<Figures>(from), b = std::bit_cast<Figures>(to);
  const double share = 1.0 / ticks;
  Figures each{};
  for (std::size_t i = 0; i < each.size(); ++i) {
    each[i] = (b[i] - a[i]) * share;
  }
  return std::bit_cast<Moving>(each);
}

}  // namespace

Runner::Runner(const Parameters& p)
    : model{p},
      whole_{p, tick_s},
      fine_{p, tick_s / p.scheme.substeps_transient},
      far_{p, tick_s * p.scheme.ahead},
      last_{p.scheme.ahead - 1} {
  *now_ = rest(model);
}

Moving Runner::moving(const State& s) const {
  const StrandForces& strand = s.load.strand;
  return {.p_cap = s.at.p_cap,
          .p_rod = s.at.p_rod,
          .p_pump = s.at.p_pump,
          .x_ram = s.y[M::x],
          .v_ram = s.y[M::v],
          .F_strand_live = strand.F_strand,
          .F_jack = s.load.F,
          .F_chuck = strand.F_chuck,
          .F_friction = s.F_friction,
          .elongation = strand.u,
          .draw_in =
              strand.F_chuck > 0.0 ? s.memory.u_hold + model.strand.live_draw_in(s.memory) - strand.u : 0.0,
          .dead_draw_in = model.strand.dead_draw_in(s.memory.F_dead_max),
          .slack_left = at_least(0.0, model.strand.straight(s.memory) - at_least(0.0, strand.u)),
          .wedges_pushed = s.memory.pushed,
          .W_pump = s.W_pump,
          .W_oil = s.W_oil,
          .W_friction = s.W_friction,
          .W_load = s.W_load};
}

// Steady running; false and no change if it is not steady.
bool Runner::run_whole(const Acting& acting) {
  if (spool_way(*now_, acting) > quick_spool || magnitude(now_->y[M::v]) > quick_speed) {
    return false;
  }
  const Miss miss = follow(model, *now_, *next_, acting, whole_);
  if (!miss.within(steady) || quick(*now_, *next_)) {
    return false;
  }
  calm_ = change(*now_, *next_) * model.p.scheme.ahead < calm_change;
  std::swap(now_, next_);
  return true;
}

void Runner::run_tick(const Acting& acting) {
  if (run_whole(acting)) {
    return;
  }
  calm_ = false;
  for (int i = 0; i < model.p.scheme.substeps_transient; ++i) {
    advance(model, *now_, *next_, acting, fine_);
    std::swap(now_, next_);
  }
}

// While nothing changes, many ticks are one step; between its ends lies the straight line.
bool Runner::run_ahead(const Acting& acting, const Moving& from) {
  if (!calm_ || model.p.scheme.ahead == 1 || spool_way(*now_, acting) > 0.0) {
    return false;
  }
  const Miss miss = follow(model, *now_, *next_, acting, far_);
  calm_ = miss.within(calm) && change(*now_, *next_) < calm_change;
  if (calm_) {
    over_ = moving(*next_);
    each_ = a_tick_of(from, over_, model.p.scheme.ahead);
  }
  return calm_;
}

void Runner::come_back() {
  const int ticks = std::exchange(done_, 0);
  const Acting acting = next_->acting;
  for (int i = 0; i < ticks; ++i) {
    run_tick(acting);
  }
  calm_ = false;
}

bool Runner::turn(const Acting& acting, Moving& moves) {
  if (done_ > 0 && acting != next_->acting) {
    come_back();
  }
  if (done_ == 0 && !run_ahead(acting, moves)) {
    run_tick(acting);
    moves = moving(*now_);
    return true;
  }
  if (done_ < last_) {
    return go_on(moves);
  }
  done_ = 0;
  std::swap(now_, next_);
  moves = over_;
  return true;
}

}  // namespace strandproof::plant
