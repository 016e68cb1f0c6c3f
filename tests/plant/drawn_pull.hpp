// Whole pulls over the range of beds, oils, valves and pumps that a campaign draws from. Decisions are taken
// by the scheme as shipped and kept as a script, so that another solver can be driven tick by tick the same
// way.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/plant/math.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {

// Sebastiano Vigna's splitmix64 (public domain, constants from memory): any even spread would do.
class Draw {
 public:
  explicit Draw(std::uint64_t seed) : state_{seed} {}
  double between(double low, double high) {
    std::uint64_t z = state_ += 0x9E3779B97F4A7C15ULL;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return low + (high - low) * static_cast<double>((z ^ (z >> 31U)) >> 11U) * 0x1p-53;
  }

 private:
  std::uint64_t state_;
};

struct DrawnPull {
  Parameters plant;
  double target = 0.0;  // N
};

inline DrawnPull drawn_pull(Draw& d) {
  Parameters p;
  p.oil.air = 0.001 * power(30.0, d.between(0.0, 1.0));
  p.pump.scale = d.between(0.8, 1.2);
  p.valves.delay = 1e-3 * d.between(5.0, 40.0);
  p.valves.tau = d.between(0.002, 0.012);
  p.friction.fraction = d.between(0.01, 0.05);
  p.friction.scatter = d.between(-0.3, 0.3);
  p.strand.L = 10.0 * power(6.0, d.between(0.0, 1.0));
  p.strand.slack = d.between(0.0, 0.08);
  p.strand.k_abutment = 5e7 * power(10.0, d.between(0.0, 1.0));
  p.chucks.draw_in_pushed = d.between(0.002, 0.004);
  p.hose.V = d.between(0.1e-3, 0.6e-3);
  p.ram.V_cap = d.between(0.1e-3, 0.4e-3);
  return {p, d.between(100e3, 140e3)};
}

struct Forces {
  double peak = 0.0, held = 0.0, locked = 0.0;  // N, true strand force
};

enum class Mark { none, held, locked };

// Drives one after the other, each for so many ticks; at the end of one a force is noted.
struct Stretch {
  Drive drive;
  int ticks = 0;
  Mark mark = Mark::none;
};
using Script = std::vector<Stretch>;

inline void note(Forces& f, Mark mark, double force) {
  (mark == Mark::held ? f.held : mark == Mark::locked ? f.locked : force) = force;
}

// Lowered on until the grip is clear of the strand: before that a tick more or less, 8 um on the short tail,
// is 200 N between jack and chuck.
inline constexpr int clear_ms = 1000;

// The pull as a person would make it on this jack.
class Decider {
 public:
  explicit Decider(const DrawnPull& pull) : plant_{pull.plant} {
    until(pull_fast, [&](const Truth& t) { return t.F_jack > 0.9 * pull.target; });
    until(pull_slow, [&](const Truth& t) { return t.F_jack > pull.target; });
    run({blocked, 2000, Mark::held});
    run({push_wedges, 1500});
    until(let_down, [](const Truth& t) { return t.F_jack <= 0.0; });
    run({let_down, clear_ms});
    run({blocked, 1000, Mark::locked});
  }
  [[nodiscard]] const Script& script() const { return script_; }
  [[nodiscard]] const Forces& forces() const { return forces_; }

 private:
  void step(const Drive& drive) {
    plant_.step(drive);
    forces_.peak = at_least(forces_.peak, plant_.truth().F_strand_live);
  }
  void run(const Stretch& s) {
    for (int i = 0; i < s.ticks; ++i) {
      step(s.drive);
    }
    note(forces_, s.mark, plant_.truth().F_strand_live);
    script_.push_back(s);
  }
  template <typename Condition>
  void until(const Drive& drive, Condition done) {
    int ticks = 0;
    for (; ticks < 200'000 && !done(plant_.truth()); ++ticks) {
      step(drive);
    }
    script_.push_back({drive, ticks, Mark::none});
  }

  Plant plant_;
  Script script_;
  Forces forces_;
};

}  // namespace strandproof::plant
