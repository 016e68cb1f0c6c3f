#include "sim/plant/strand.hpp"

#include "sim/plant/math.hpp"

namespace strandproof::plant {
namespace {

constexpr double never = -1e9;          // m, wedges that hold nothing
constexpr double dragged_loose = 1e-3;  // m of pulling on undoes the push
constexpr double touching = 0.05;       // of the push: from here on the wedges lie on the strand
constexpr double near_enough = 1e-9;    // strain; the error left is its square times the curve's bend
constexpr double gravity = 9.80665;     // m/s2

}  // namespace

StrandLine::StrandLine(const Strand& strand, const Chucks& chucks)
    : strand_{strand},
      chucks_{chucks},
      steel_{fit_curve(strand.E, strand.f_pu, strand.f_1, strand.eps_u), strand.eps_u},
      k_tail_{strand.A * strand.E / strand.L_tail},
      per_k_abutment_{1.0 / strand.k_abutment},
      per_AE_{1.0 / (strand.A * strand.E)},
      draw_per_F_{chucks.dead_draw_in / chucks.F_dead_full},
      rub_most_{0.5 * strand.friction * rho_steel * strand.A * strand.L * gravity},
      growth_{strand.alpha * strand.L * strand.warming} {}

// Drawn along the bed the strand carries at its live end half of the whole friction more than in the middle.
// After a turn the friction turns with it, first near the live end: over about half of itself, exponentially.
StrandLine::Rub StrandLine::rub(double F_steel, const StrandMemory& m) const {
  if (rub_most_ == 0.0) {
    return {};
  }
  const double moved = F_steel - m.F_steel, per = 2.0 / rub_most_;
  const double end = moved < 0.0 ? -rub_most_ : rub_most_;
  const double kept = exponential(at_least(-300.0, -magnitude(moved) * per));
  return {end + (m.rub - end) * kept, magnitude(m.rub - end) * kept * per};
}

StrandMemory StrandLine::fresh() const {
  StrandMemory m;
  m.u_hold = never;
  m.wedges_on = !chucks_.keeper;
  return m;
}

double StrandLine::dead_draw_in(double F_max) const {
  return at_most(chucks_.dead_draw_in, F_max * draw_per_F_);
}

double StrandLine::live_draw_in(const StrandMemory& m) const {
  return chucks_.draw_in + m.pushed * (chucks_.draw_in_pushed - chucks_.draw_in);
}

// One unknown, the strain: g = strand force - tail force - chuck force rises with it, in nearly straight
// pieces, so Newton's search ends after one or two steps. From far off its steps can leap to and fro over
// the kinks of tail and dead end for ever: a step not inside the bracket found so far halves it instead.
StrandForces StrandLine::forces(double x, const StrandMemory& m) const {
  StrandForces r;
  const double u_straight = straight(m);
  r.x = x;
  r.eps = m.set;
  if (m.broken || (x <= u_straight && m.u_hold <= u_straight)) {
    r.u = at_least(0.0, at_least(m.broken ? m.u : m.u_hold, at_most(u_straight, x)));
    return r;
  }
  double eps = at_least(m.set, m.eps + m.deps_dx * (x - m.x)), low = m.set, high = 1.0;
  for (int i = 0; i < 60; ++i) {
    const Stress s = steel_.stress(eps, m.eps_max, m.set);
    const double F = strand_.A * s.f, dF = strand_.A * s.E;
    const Rub bed = rub(F, m);
    const double F_live = F + bed.F, dF_live = dF * (1.0 + bed.slope);
    const bool drawing = F > m.F_dead_max && F < chucks_.F_dead_full;
    const double du = strand_.L + dF * (per_k_abutment_ + (drawing ? draw_per_F_ : 0.0));
    const double u = strand_.slack + m.slipped + m.grown + dead_draw_in(at_least(m.F_dead_max, F)) +
                     strand_.L * eps + F * per_k_abutment_;
    const double tail = x > u ? k_tail_ : 0.0, chuck = m.u_hold > u ? chucks_.k_wedge : 0.0;
    const double per_dg = 1.0 / (dF_live + du * (tail + chuck));
    const double g = F_live - tail * (x - u) - chuck * (m.u_hold - u);
    const double step = -g * per_dg;
    (g > 0.0 ? high : low) = eps;
    if (magnitude(step) < near_enough) {
      r.eps = eps + step;
      r.u = u + du * step;
      r.F_steel = F + dF * step;
      r.F_strand = at_least(0.0, F_live + dF_live * step);
      r.rub = rub(r.F_steel, m).F;
      r.F_jack = at_least(0.0, tail * (x - r.u));
      r.F_chuck = at_least(0.0, chuck * (m.u_hold - r.u));
      r.deps_dx = tail * per_dg;
      r.k_jack = tail * (1.0 - du * r.deps_dx);
      return r;
    }
    const double next = eps + step;
    eps = next > low && next < high ? next : 0.5 * (low + high);
  }
  return r;
}

void StrandLine::remember(StrandMemory& m, const StrandForces& now, double push, double h) const {
  m.eps = now.eps;
  m.x = now.x;
  m.deps_dx = now.deps_dx;
  m.u = now.u;
  m.F_steel = now.F_steel;
  m.rub = now.rub;
  m.grown += growth_ * h;
  if (now.eps > m.eps_max) {
    m.eps_max = now.eps;
    m.set = now.eps - now.F_steel * per_AE_;
  }
  m.F_dead_max = at_least(m.F_dead_max, now.F_steel);
  m.broken = m.broken || m.eps_max >= strand_.eps_u;
  m.wedges_on = m.wedges_on || push > touching;
  if (push > touching) {
    m.pushed = at_least(m.pushed, push);
    m.u_pushed = now.u;
  } else if (now.u > m.u_pushed + dragged_loose) {
    m.pushed = 0.0;
  }
  if (m.wedges_on && !m.broken) {
    m.u_hold = at_least(m.u_hold, now.u - live_draw_in(m));
  }
}

}  // namespace strandproof::plant
