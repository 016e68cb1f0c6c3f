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
  if (m.answer.state != state_) {
    enter(m);
  }
  if (m.answer.state == state::settle && !settle_.taken && m.time_s >= moving_.time_s + settle_s) {
    end_settle(m);
  }
  if (first_cause_ == 0 && m.answer.cause != 0) {
    first_cause_ = m.answer.cause;
    first_cause_s_ = m.time_s;
  }
}

void Timeline::end_settle(const Moment& m) {
  settle_ = snapshot(m);
}

void Timeline::enter(const Moment& m) {
  state_ = m.answer.state;
  if (state_ == state::main_pull && !datum_.taken) {
    datum_ = snapshot(m);
  }
  if (state_ == state::settle) {
    moving_ = snapshot(m);
    settle_ = Snapshot{};
  }
  if (state_ == state::re_stroke) {
    settle_ = Snapshot{};  // it was that of a stroke, not of the pull
  }
  visits_.push_back({state_, m.time_s, m.truth.F_strand_live, m.truth.x_ram, m.answer.cause});
}

}  // namespace strandproof::sim
