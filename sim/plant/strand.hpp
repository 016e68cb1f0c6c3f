// The strand between its chucks: slack, steel, friction on the bed, warmth, abutments that give, wedges that
// draw in at the dead end and catch at the live end, and the tail up to the jack's grip. No mass: it answers
// at once, at its whole length.
#pragma once

#include "sim/plant/parameters.hpp"
#include "sim/plant/steel.hpp"

namespace strandproof::plant {

// What the strand and its chucks remember. Constant within a substep, brought up to date after it.
struct StrandMemory {
  double eps = 0.0;         // strain at last, where the next search starts,
  double x = 0.0;           // m, the grip's travel then,
  double deps_dx = 0.0;     // 1/m, and how the strain follows it
  double eps_max = 0.0;     // largest strain so far
  double set = 0.0;         // strain left when the stress is gone
  double slipped = 0.0;     // m, out of the dead-end chuck
  double grown = 0.0;       // m, of its length by warmth
  double F_steel = 0.0;     // N, mean over the length at last,
  double rub = 0.0;         // N, and what the bed's friction adds to it at the live end
  double F_dead_max = 0.0;  // N, largest force so far on the dead end's wedges
  double u = 0.0;           // m, strand at the live chuck
  double u_hold = 0.0;      // m, the live wedges hold the strand from going back past here
  double pushed = 0.0;      // 0 to 1, by the seating tube
  double u_pushed = 0.0;    // m, where the strand stood when the wedges were last pushed
  bool wedges_on = false;   // the wedges touch the strand
  bool broken = false;
};

// The answer to one position of the grip.
struct StrandForces {
  double F_jack = 0.0;                   // N, in the tail
  double k_jack = 0.0;                   // N/m, its tangent
  double F_strand = 0.0, F_chuck = 0.0;  // N, at the live end
  double F_steel = 0.0, rub = 0.0;       // N, mean over the length, and the live end's more
  double eps = 0.0;
  double x = 0.0, deps_dx = 0.0;  // m and 1/m, the grip's travel and the strain's slope by it
  double u = 0.0;                 // m
};

class StrandLine {
 public:
  StrandLine() = default;
  StrandLine(const Strand& strand, const Chucks& chucks);
  // x: travel of the grip since the strand was threaded.
  [[nodiscard]] StrandForces forces(double x, const StrandMemory& memory) const;
  // After a step of h seconds; push: how far the seating tube has pushed the wedges in now, 0 to 1.
  void remember(StrandMemory& memory, const StrandForces& now, double push, double h) const;
  [[nodiscard]] StrandMemory fresh() const;
  [[nodiscard]] double dead_draw_in(double F_max) const;
  [[nodiscard]] double live_draw_in(const StrandMemory& memory) const;
  // Live-chuck movement at which the strand is straight.
  [[nodiscard]] double straight(const StrandMemory& memory) const {
    return strand_.slack + memory.slipped + memory.grown + dead_draw_in(memory.F_dead_max) +
           strand_.L * memory.set;
  }

 private:
  // Friction on the bed at this mean force, and its slope.
  struct Rub {
    double F = 0.0, slope = 0.0;
  };
  [[nodiscard]] Rub rub(double F_steel, const StrandMemory& memory) const;

  Strand strand_;
  Chucks chucks_;
  Steel steel_;
  double k_tail_ = 0.0, per_k_abutment_ = 0.0, per_AE_ = 0.0, draw_per_F_ = 0.0;
  double rub_most_ = 0.0, growth_ = 0.0;  // N and m/s
};

}  // namespace strandproof::plant
