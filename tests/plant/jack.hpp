// A jack reduced to what one closed form speaks about, and hands for it.
#pragma once

#include "sim/plant/plant.hpp"

namespace strandproof::plant {

inline constexpr Drive pull_fast{.motor = true, .fast_stage = true, .advance = true, .shut_off_open = true};
inline constexpr Drive pull_slow{.motor = true, .advance = true, .shut_off_open = true};
inline constexpr Drive push_wedges{.motor = true, .seat = true, .shut_off_open = true};
inline constexpr Drive let_down{.motor = true, .lower = true, .shut_off_open = true};
inline constexpr Drive blocked{};

inline void run(Plant& plant, const Drive& drive, int ticks) {
  for (int i = 0; i < ticks; ++i) {
    plant.step(drive);
  }
}

// False if the force was not reached within ten minutes.
inline bool pull_to(Plant& plant, double force, const Drive& drive = pull_fast) {
  for (int i = 0; i < 600'000 && plant.truth().F_strand_live < force; ++i) {
    plant.step(drive);
  }
  return plant.truth().F_strand_live >= force;
}

// Steel whose curve stays on its first modulus up to high stress, for closed forms that are linear.
inline void straight_steel(Strand& s) {
  s.f_1 = 0.00959 * s.E;
  s.f_pu = 1.3 * s.f_1;
}

// trade.md 6.4: 48 cm2, 1.5 GPa without air, no friction, nothing that gives but oil and strand.
inline Parameters ideal_jack() {
  Parameters p;
  p.oil.air = 0.0;
  p.hose.V = 1e-6;
  p.friction = {.fraction = 0.0, .F_seal = 1e-3, .stribeck = 0.0, .c = 0.0, .relaxation = 0.0};
  p.ram.x_start = 0.0;
  p.strand.slack = 0.0;
  p.strand.k_abutment = 1e15;
  p.strand.L_tail = 0.01;
  p.chucks.dead_draw_in = 0.0;
  straight_steel(p.strand);
  return p;
}

}  // namespace strandproof::plant
