#include "sim/checkers/checkers.hpp"

#include <algorithm>
#include <array>
#include <cstdio>

namespace strandproof::sim {
namespace {

// Leases of 5 ms, valve delay of up to 40 ms and its run-down of 70 ms (hazards.md, clock), with the
// slowest mirror: after this the ram has to stand.
constexpr double run_down_s = 0.130;
constexpr double still_m = 1.0e-3;  // what oil that relaxes, or a break, may still move the ram
constexpr double p_atmosphere = 101'325.0;
constexpr double break_rebound_s = 0.5;  // the ram springs when the strand lets go: no valve did that
constexpr double some_load_n =
    0.5e3;  // less is the sag of the strand's own weight (60 m of 12.9 mm: 0.46 kN)
constexpr double understated_s = 0.5;
constexpr double unseen_n = 6e3;  // 0.6 MPa on 65 cm2 and the seals
constexpr double over_frame = 1.10;

}  // namespace

bool Checkers::breached(const std::string& check) const {
  return std::any_of(breaches_.begin(), breaches_.end(), [&](const Breach& b) { return b.check == check; });
}

void Checkers::breach(const char* check, double time_s, const char* what, double a, double b) {
  if (breached(check)) {
    return;  // the first moment of each kind is the one to look at
  }
  std::array<char, 160> text{};
  std::snprintf(text.data(), text.size(), what, a, b);
  breaches_.push_back({check, text.data(), time_s});
}

void Checkers::tick(const Moment& m) {
  time_s_ = m.time_s;
  if (!(m.truth.F_strand_live <= limits_.force)) {
    breach("over-force", m.time_s, "true strand force %.0f N above the limit %.0f N", m.truth.F_strand_live,
           limits_.force);
  }
  if (!(m.truth.p_cap <= over_frame * limits_.pressure)) {
    breach("over-pressure", m.time_s,
           "true pressure %.0f kPa more than 10 %% above the frame's limit %.0f kPa", m.truth.p_cap / 1e3,
           limits_.pressure / 1e3);
  }
  if (m.truth.broken && broken_s_ < 0.0) {
    broken_s_ = m.time_s;
  }
  motion(m);
  load_state(m);
  chuck_said(m);
  mark(m);
}

// A ram that is stopped on its way in has pressure on its retract side, which drains away. What it had
// carried then hangs on the air in the advance side, which widens until its pressure has fallen by as much
// (Boyle), at the most to that of the atmosphere: millimetres in a jack that carries nothing, nothing under
// load.
double Checkers::swing(const plant::Truth& t) const {
  const double before = p_atmosphere + std::max(0.0, t.p_cap);
  const double after = std::max(p_atmosphere, before - limits_.rod_over_cap * std::max(0.0, t.p_rod));
  const double held = limits_.air * (limits_.cap_dead + t.x_ram);  // m of stroke full of air at 1 atm
  return held * (p_atmosphere / after - p_atmosphere / before);
}

// The ram may not travel while the enables are not both held, once everything has run down.
void Checkers::motion(const Moment& m) {
  if (m.hands.enabled()) {
    enabled_until_s_ = m.time_s;
    let_go_ = resting_ = false;
    return;
  }
  if (!let_go_) {
    let_go_ = true;
    swing_m_ = swing(m.truth);
  }
  const bool rebound = broken_s_ >= 0.0 && m.time_s < broken_s_ + break_rebound_s;
  if (rebound || m.time_s < enabled_until_s_ + run_down_s) {
    resting_ = false;
    return;
  }
  if (!resting_) {
    resting_ = true;
    rest_stroke_m_ = m.truth.x_ram;
  }
  const double moved = m.truth.x_ram - rest_stroke_m_;
  if (!(moved <= still_m + swing_m_ && moved >= -still_m)) {
    breach("motion-without-enable", m.time_s, "ram moved %.2f mm, %.2f s after the enables were let go",
           moved * 1e3, m.time_s - enabled_until_s_);
  }
}

void Checkers::load_state(const Moment& m) {
  const bool understated = m.answer.load_state == load::no_load && m.truth.F_strand_live > some_load_n;
  if (!understated) {
    understated_s_ = -1.0;
    return;
  }
  if (understated_s_ < 0.0) {
    understated_s_ = m.time_s;
  }
  if (m.time_s - understated_s_ >= understated_s) {
    breach("load-understated", m.time_s, "NO LOAD shown with %.0f N in the strand for %.1f s",
           m.truth.F_strand_live, m.time_s - understated_s_);
  }
}

// LOAD ON CHUCK while the jack pulls. What the controller can not see below its threshold of 0.6 MPa, and
// what seals hold, is no breach.
void Checkers::chuck_said(const Moment& m) {
  const bool wrong = m.answer.load_state == load::on_chuck && m.truth.F_jack > unseen_n;
  if (!wrong) {
    chuck_said_s_ = -1.0;
    return;
  }
  chuck_said_s_ = chuck_said_s_ < 0.0 ? m.time_s : chuck_said_s_;
  if (m.time_s - chuck_said_s_ >= understated_s) {
    breach("load-misplaced", m.time_s, "LOAD ON CHUCK shown with %.0f N on the jack for %.1f s",
           m.truth.F_jack, m.time_s - chuck_said_s_);
  }
}

// True places of the strand at the datum and at the end of the settle, by the states the controller shows:
// what moved at the chuck and what the tail has stretched, in one stroke or in several.
void Checkers::mark(const Moment& m) {
  const std::uint8_t now = m.answer.state;
  if (now != state_) {
    if (now == state::main_pull && state_ == state::datum) {
      datum_m_ = place(m);
    }
    if (now == state::settle) {
      settle_from_s_ = m.time_s;
    }
    state_ = now;
  }
  if (now == state::settle && m.time_s >= settle_from_s_ + 2.0) {
    settled_m_ = place(m);
  }
  locked_n_ = m.truth.F_strand_live;
}

void Checkers::judge(const Claim& claim) {
  if (claim.verdict != verdict::within_limits) {
    return;
  }
  if (broken_s_ >= 0.0) {
    breach("broken-called-good", time_s_, "the strand broke and the pull is recorded as within limits");
  }
  const double off = locked_n_ - limits_.seated;
  if (!(off <= limits_.force_window * limits_.seated && off >= -limits_.force_window * limits_.seated)) {
    breach("force-called-good", time_s_, "true locked force %.0f N, wanted %.0f N, recorded as within limits",
           locked_n_, limits_.seated);
  }
  const double elongation = datum_m_ && settled_m_ ? *settled_m_ - *datum_m_ : 0.0;
  if (!(elongation >= limits_.elongation_min && elongation <= limits_.elongation_max)) {
    breach("elongation-called-good", time_s_,
           "true elongation %.1f mm, least %.1f mm, recorded as within limits", elongation * 1e3,
           limits_.elongation_min * 1e3);
  }
}

void Checkers::flash_violations(std::uint32_t count) {
  if (count != 0) {
    breach("flash-rule", time_s_, "%.0f calls broke the flash's contract", count);
  }
}

}  // namespace strandproof::sim
