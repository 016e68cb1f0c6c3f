// A strand of masses and springs, held at both ends, explicit in time: what the plant's strand without mass
// is held against. With steps of just one cell's transit it is d'Alembert's solution; with few masses it
// smears the front.
#pragma once

#include <cstddef>
#include <vector>

namespace strandproof::plant {

class Chain {
 public:
  // cells of equal length, under the same force everywhere; a step of h seconds at most dx/c.
  Chain(std::size_t cells, double L, double AE, double mass_per_m, double F, double h)
      : k_{AE * static_cast<double>(cells) / L},
        per_m_{static_cast<double>(cells) / (mass_per_m * L)},
        h_{h},
        v_(cells + 1, 0.0),
        force_(cells, F) {}

  // The spring between node i and i + 1 is gone; node 0 is the live end.
  void cut(std::size_t i) { cut_ = i; }
  void step() {
    const std::size_t n = force_.size();
    for (std::size_t i = 0; i < n; ++i) {
      force_[i] += k_ * h_ * (v_[i + 1] - v_[i]);
    }
    for (std::size_t i = 1; i < n; ++i) {
      v_[i] += h_ * per_m_ * (carried(i) - carried(i - 1));
    }
  }
  // A strand carries no push.
  [[nodiscard]] double live_end() const { return carried(0); }

 private:
  [[nodiscard]] double carried(std::size_t i) const { return i == cut_ || force_[i] < 0.0 ? 0.0 : force_[i]; }

  double k_, per_m_, h_;
  std::vector<double> v_, force_;
  std::size_t cut_ = static_cast<std::size_t>(-1);
};

}  // namespace strandproof::plant
