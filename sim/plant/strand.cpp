#include "sim/plant/strand.hpp"

#include "sim/plant/math.hpp"

namespace strandproof::plant {
namespace {

constexpr double never = -1e9;          // m, wedges that hold nothing
constexpr double dragged_loose = 1e-3;  // m of pulling on undoes the push
constexpr double touching = 0.05;       // of the push: from here on the wedges lie on the strand

}  // namespace

StrandLine::StrandLine(const Strand& strand, const Chucks& chucks)
    : strand_{strand},
      chucks_{chucks},
      steel_{fit_curve(strand.E, strand.f_pu, strand.f_1, strand.eps_u), strand.eps_u},
      k_tail_{strand.A * strand.E / strand.L_tail} {}

StrandMemory StrandLine::fresh() const {
  StrandMemory m;
  m.u_hold = never;
  m.wedges_on = !chucks_.keeper;
  return m;
}

double StrandLine::dead_draw_in(double F_max) const {
  return chucks_.dead_draw_in * at_most(1.0, F_max / chucks_.F_dead_full);
}

double StrandLine::live_draw_in(const StrandMemory& m) const {
  return chucks_.draw_in + m.pushed * (chucks_.draw_in_pushed - chucks_.draw_in);
}

// One unknown, the strain: g = strand force - tail force - chuck force rises with it, in nearly straight
// pieces, so Newton's search ends after two or three steps. From far off its steps can leap to and fro over
// the kinks of tail and dead end for ever: a step not inside the bracket found so far halves it instead.
StrandForces StrandLine::forces(double x, const StrandMemory& m) const {
  StrandForces r;
  const double set = steel_.set(m.eps_max);
  const double u_straight = straight(m, set);
  r.eps = set;
  if (m.broken || (x <= u_straight && m.u_hold <= u_straight)) {
    r.u = at_least(0.0, at_least(m.broken ? m.u : m.u_hold, at_most(u_straight, x)));
    return r;
  }
  double eps = at_least(set, m.eps), low = set, high = 1.0;
  for (int i = 0; i < 60; ++i) {
    const Stress s = steel_.stress(eps, m.eps_max);
    const double F = strand_.A * s.f, dF = strand_.A * s.E;
    const bool drawing = F > m.F_dead_max && F < chucks_.F_dead_full;
    const double du = strand_.L + dF * (1.0 / strand_.k_abutment +
                                        (drawing ? chucks_.dead_draw_in / chucks_.F_dead_full : 0.0));
    r.u = strand_.slack + m.slipped + dead_draw_in(at_least(m.F_dead_max, F)) + strand_.L * eps +
          F / strand_.k_abutment;
    const bool tail = x > r.u, chuck = m.u_hold > r.u;
    r.F_jack = tail ? k_tail_ * (x - r.u) : 0.0;
    r.F_chuck = chuck ? chucks_.k_wedge * (m.u_hold - r.u) : 0.0;
    const double dg = dF + du * ((tail ? k_tail_ : 0.0) + (chuck ? chucks_.k_wedge : 0.0));
    r.k_jack = tail ? k_tail_ * (1.0 - du * k_tail_ / dg) : 0.0;
    r.F_strand = F;
    r.eps = eps;
    const double g = F - r.F_jack - r.F_chuck;
    (g > 0.0 ? high : low) = eps;
    double next = eps - g / dg;
    if (magnitude(next - eps) < 1e-13) {
      break;
    }
    if (!(next > low && next < high)) {
      next = 0.5 * (low + high);
    }
    eps = next;
  }
  return r;
}

void StrandLine::remember(StrandMemory& m, const StrandForces& now, double push) const {
  m.eps = now.eps;
  m.u = now.u;
  m.eps_max = at_least(m.eps_max, now.eps);
  m.F_dead_max = at_least(m.F_dead_max, now.F_strand);
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
