// The books of one pull: datum, run-on, force at the end of the settle, slope, draw-in, verdict. Every
// figure that a stressing record shows is made here, and nowhere else.
#pragma once

#include "firmware/control/curve.hpp"
#include "firmware/control/instruction.hpp"
#include "firmware/control/measures.hpp"
#include "firmware/control/stop.hpp"

namespace strandproof::control {

struct PullReport {
  Verdict verdict = Verdict::none;
  units::Force datum_force, settle, peak, locked;
  units::Force settle_a, settle_b;  // last moving force of each channel
  units::Pressure zero_a, zero_b;   // at rest when the pull was armed
  units::Length datum_stroke, elongation, draw_in;
  units::Stiffness stiffness_seen;  // 0: the pull did not reach 40 % of the jack force
  float run_on_s = 0.0F;
  units::Ticks started = 0, ended = 0;
  bool settled = false;
  bool channels_agree = false;
};

// Force of both channels together: the mean of those that are valid.
struct ForcePair {
  ForceLine a, b;
  [[nodiscard]] bool any() const { return a.valid || b.valid; }
  [[nodiscard]] units::Force mean() const;
  [[nodiscard]] float rate() const;
};

class Pull {
 public:
  Pull(const Measures& m, const Settings& s) : m_{m}, s_{s}, run_on_{s} {}

  void arm(const PullInstruction& i, units::Ticks now);
  void enter_slack();                 // slack is counted from here
  void cut(const ForcePair& f);       // the flow was cut at this tick, at initial or jack force
  void take_datum(units::Ticks now);  // at the end of the datum phase
  void track(const ForcePair& f, units::Ticks now);  // each tick of main and slow pull
  // After a break: for the curve alone, as far down as the table says a force.
  void track_fall(const GaugeTable& table, units::Ticks now);
  void settle_tick(std::uint32_t ticks);  // each tick of the settle, counted from its begin
  void end_of_settle(units::Ticks now);
  void begin_seat();
  void seat_tick(const GaugeTable& table);  // each tick while the jack is being released
  void end(units::Ticks now, Verdict forced);

  [[nodiscard]] float run_on_s() const { return run_on_.seconds(); }
  [[nodiscard]] units::Length elongation() const { return m_.stroke_mean64() - report_.datum_stroke; }
  [[nodiscard]] units::Length slack_used() const { return m_.stroke_mean64() - slack_start_; }
  [[nodiscard]] bool datum_taken() const { return datum_taken_; }
  [[nodiscard]] bool top_up_due() const;
  // Of the settle: the ram's creep back since it came to rest, as force, and what leak or relaxation
  // explains.
  [[nodiscard]] bool resting() const { return rest_taken_; }
  [[nodiscard]] units::Force fallen() const { return i_.stiffness * (rest_ - m_.stroke_mean200()); }
  [[nodiscard]] units::Force fall_allowed() const { return i_.jack * s_.settle_fall_max; }
  [[nodiscard]] bool fell_too_far() const;  // once resting
  [[nodiscard]] const PullReport& report() const { return report_; }
  [[nodiscard]] const Curve& curve() const { return curve_; }
  [[nodiscard]] const PullInstruction& instruction() const { return i_; }

 private:
  void track_slope(units::Force f);
  [[nodiscard]] CurvePoint point(units::Ticks now, units::Length e, units::Force f) const;
  void judge();

  const Measures& m_;
  const Settings& s_;
  RunOn run_on_;
  PullInstruction i_;
  PullReport report_;
  Curve curve_;
  ForcePair at_cut_;
  units::Length slack_start_, rest_, seat_start_;
  units::Force slope_force_;
  units::Length slope_stroke_;
  units::Length stroke_high_, stroke_low_;  // while the jack is released: at 70 and at 20 % of the force
  bool datum_taken_ = false, rest_taken_ = false, slope_begun_ = false, high_taken_ = false,
       low_taken_ = false;
};

}  // namespace strandproof::control
