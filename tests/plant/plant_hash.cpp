// Prints a hash over every tick's truth of a whole pull, a second pull that breaks, and the rig: same_bits.sh
// compares it between compilers and optimisation levels.
#include <bit>
#include <cstdint>
#include <cstdio>

#include "tests/plant/jack.hpp"

namespace {

using namespace strandproof::plant;

class Hash {
 public:
  void add(const Truth& t) {
    for (const double value :
         {t.p_cap,      t.p_rod,         t.p_pump,     t.x_ram,      t.v_ram,   t.F_strand_live,
          t.F_jack,     t.F_chuck,       t.F_friction, t.elongation, t.draw_in, t.dead_draw_in,
          t.slack_left, t.wedges_pushed, t.Q_pump,     t.W_pump,     t.W_oil,   t.W_friction,
          t.W_load,     t.p_a,           t.p_b,        t.stroke,     t.cell}) {
      const auto bits = std::bit_cast<std::uint64_t>(value);
      for (unsigned shift = 0; shift < 64; shift += 8) {  // FNV-1a, 64 bits
        value_ = (value_ ^ (bits >> shift & 0xFFU)) * 0x100000001B3ULL;
      }
    }
  }
  [[nodiscard]] std::uint64_t value() const { return value_; }

 private:
  std::uint64_t value_ = 0xCBF29CE484222325ULL;
};

void run(Plant& plant, Hash& hash, const Drive& drive, int ticks) {
  for (int i = 0; i < ticks; ++i) {
    plant.step(drive);
    hash.add(plant.truth());
  }
}

}  // namespace

int main() {
  Hash hash;
  Parameters p;
  p.oil.n = 1.2;  // the power function too
  Plant plant(p);
  run(plant, hash, pull_fast, 60'000);
  run(plant, hash, pull_slow, 2'000);
  run(plant, hash, blocked, 2'000);
  run(plant, hash, push_wedges, 1'500);
  run(plant, hash, let_down, 10'000);
  if (!plant.thread_strand()) {
    std::fputs("plant_hash: the jack is still loaded after seating\n", stderr);
    return 2;
  }
  run(plant, hash, pull_fast, 15'000);
  plant.break_strand(0.0);
  run(plant, hash, blocked, 1'000);
  p.rig.fitted = true;
  Plant rig(p);
  run(rig, hash, pull_fast, 6'000);
  run(rig, hash, let_down, 4'000);
  std::printf("%016llx\n", static_cast<unsigned long long>(hash.value()));
}
