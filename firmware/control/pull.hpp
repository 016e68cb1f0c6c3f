// The books of one pull: datum, run-on, force at the end of the settle, slope, draw-in, verdict. Every
// figure that a stressing record shows is made here, and nowhere else.
#pragma once

#include <array>

#include "firmware/control/bites.hpp"
#include "firmware/control/curve.hpp"
#include "firmware/control/instruction.hpp"
#include "firmware/control/measures.hpp"
#include "firmware/control/stop.hpp"

namespace strandproof::control {

// A stroke that was followed by another.
struct Stroke {
  units::Force end;       // at the end of its settle
  units::Force locked;    // that less what the draw-in took: the lift-off is expected there
  units::Force lift_off;  // as measured; 0: the next stroke has not come so far
  units::Length draw_in;
};

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
  unsigned re_bites = 0;  // strokes before the last
  std::array<Stroke, strokes_max - 1> stroke{};
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

  void arm(const PullInstruction& i, units::Length usable, units::Ticks now);
  void enter_slack();                 // slack is counted from here
  void cut(const ForcePair& f);       // the flow was cut at this tick, at initial or jack force
  void take_datum(units::Ticks now);  // at the end of the datum phase
  void track(const ForcePair& f, units::Ticks now);  // of main and slow pull, where it is worked out
  // After a break: for the curve alone, as far down as the table says a force.
  void track_fall(const GaugeTable& table, units::Ticks now);
  void settle_tick(std::uint32_t ticks);  // each tick of the settle, counted from its begin
  void end_of_settle(units::Ticks now);
  void begin_seat();
  [[nodiscard]] bool seating() const { return seating_; }  // begun in this stroke: its marks count on
  void seat_tick(const GaugeTable& table);                 // each tick while the jack is being released
  void end(units::Ticks now, Verdict forced);

  // ---- a further stroke
  [[nodiscard]] bool bite_reached() const { return m_.stroke_mean64() >= bite_at_; }
  // Nothing is said of a seating that was not begun in this stroke, or that came before its settle was over.
  [[nodiscard]] bool chuck_holds() const {
    return seating_ && (report_.settled || between_) && low_taken_ && steepness() >= least_steep();
  }
  void bitten();  // the chuck holds, the jack carries nothing
  [[nodiscard]] bool ram_back() const { return m_.stroke_mean64() <= back_to_; }
  void begin_take_up();  // the ram turns
  // Each tick until the strand is off the chuck.
  void take_up_tick(const GaugeTable& table, bool no_load);
  [[nodiscard]] bool turned() const { return turned_; }  // the ram moves or pulls
  [[nodiscard]] bool lifted_off() const { return tail_ == Tail::lifted; }
  void lift_off(units::Ticks now);  // main pull again
  // H53: how far the lift-off lies off the locked force, how far it may, and whether force was lost.
  struct LiftOff {
    units::Force value, limit;
    bool lost = false;
  };
  [[nodiscard]] LiftOff judge_lift_off() const;

  [[nodiscard]] float run_on_s() const { return run_on_.seconds(); }
  [[nodiscard]] units::Length elongation() const { return m_.stroke_mean64() - zero_; }
  // The strand's, wherever the ram is between two strokes.
  [[nodiscard]] units::Length elongation_held() const { return between_ ? carried_ : elongation(); }
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
  void plan();
  [[nodiscard]] units::Stiffness steepness() const;
  [[nodiscard]] units::Stiffness least_steep() const;
  [[nodiscard]] units::Length drawn_in() const;
  [[nodiscard]] units::Force both(const GaugeTable& table) const;

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
  static constexpr units::Length never = units::Length::from_si(1.0e6F);  // a stroke that is not reached
  units::Length usable_, began_, back_to_, bite_at_ = never;
  units::Length zero_;     // ram position at which the elongation is zero, in this stroke
  units::Length carried_;  // elongation at which the next stroke lifts off
  enum class Tail : std::uint8_t { slack, low, high, lifted, lost } tail_ = Tail::slack;
  units::Length turn_, tail_x_, lift_x_;  // of the take-up: its begin, the tail's line, the lift-off
  units::Force tail_force_, lift_force_, now_force_;
  float metre_per_newton_ = 0.0F;  // of the tail's line
  bool one_stroke_ = true, turned_ = false, between_ = false;
  bool seating_ = false, gripped_anew_ = false;  // gripped_anew_: seated once more from within a take-up
  bool datum_taken_ = false, rest_taken_ = false, slope_begun_ = false, high_taken_ = false,
       low_taken_ = false;
};

}  // namespace strandproof::control
