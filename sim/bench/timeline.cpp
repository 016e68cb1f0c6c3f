#include "sim/bench/timeline.hpp"

namespace strandproof::sim {
namespace {

constexpr double settle_s = 2.0;  // interface.md: the settle

Snapshot snapshot(const Moment& m) {
  return {true, m.time_s, m.truth.F_strand_live, m.truth.p_cap, m.truth.x_ram};
}

}  // namespace

void Timeline::tick(const Moment& m) {
  const double force = m.truth.F_strand_live;
  peak_n_ = force > peak_n_ ? force : peak_n_;
  const std::uint8_t now = m.answer.state;
  if (now != state_) {
    if (now == state::main_pull && !datum_.taken) {
      datum_ = snapshot(m);
    }
    if (now == state::settle) {
      moving_ = snapshot(m);
      settle_ = Snapshot{};
    }
    if (now == state::re_stroke) {
      settle_ = Snapshot{};  // it was that of a stroke, not of the pull
    }
    visits_.push_back({now, m.time_s, force, m.truth.x_ram, m.answer.cause});
    state_ = now;
  }
  if (now == state::settle && !settle_.taken && m.time_s >= moving_.time_s + settle_s) {
    settle_ = snapshot(m);
  }
  if (first_cause_ == 0 && m.answer.cause != 0) {
    first_cause_ = m.answer.cause;
    first_cause_s_ = m.time_s;
  }
}

}  // namespace strandproof::sim
