// The predicates of the interlock rows: each looks at measurements and says since this tick "active", with
// the value that met its limit. What follows from it is the interlock table's and the core's business.
//
// A tick has its budget: it asks only which rows are active. Their values are worked out for those that have
// become so, and for all of them in the tick of a trip. What judges a mean or a time (rows_seldom) is looked
// at every few ticks. A row that is dear to ask stands behind a bound in counts, by a tenth or a whole
// count tighter than the row so that no rounding reaches it: below it no row is active, nor motion hidden.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/control/core.hpp"
#include "firmware/control/measures.hpp"
#include "firmware/control/pull.hpp"

namespace strandproof::control {

struct Finding {
  bool active = false;
  std::int32_t value = 0;  // N, mbar, um, ms or counts, as the limit
  std::int32_t limit = 0;
};

// Rows that judge a mean or a time of 50 ms and more.
inline constexpr Rows rows_seldom =
    row_bit(Cause::phase_time) | row_bit(Cause::h05_signal_stuck) | row_bit(Cause::h06_channels_disagree);

// What a row sees in a tick, whether it trips or not.
struct Look {
  float value = 0.0F, limit = 0.0F;  // as of Finding; a row that only says yes or no has neither
  bool judged = false;               // it is looked at in this tick
  bool active = false;
};
using Looks = std::array<Look, interlocks.size()>;  // in the order of the table

// Limits of one pull in raw counts, made once at arming, so that the fast rows are integer comparisons.
struct RawLimits {
  std::uint16_t a_force = 0, b_force = 0;  // counts above which the raw force is over its limit
  float newton_per_count_a = 0.0F, newton_per_count_b = 0.0F;
  float pascal_per_metre = 0.0F;  // pressure that the stiffness gives for ram travel
};

class Detectors {
 public:
  Detectors(const Jack& jack, const Settings& s, const Measures& m);
  Detectors(const Detectors&) = delete;
  Detectors& operator=(const Detectors&) = delete;

  // Raw limits of this instruction under this table.
  [[nodiscard]] RawLimits limits(const PullInstruction& i, const GaugeTable& t) const;
  void arm(const RawLimits& limits, const PullInstruction& i);
  void flow_changed(bool driven);
  void look(const Inputs& in, const CoreState& core, const Commands& driven, const Pull& pull,
            const ForcePair& f);

  // What every row sees in the tick of the last look(). Before anything else moves in that tick: the lines
  // begin anew with the flow, and the books go on.
  [[nodiscard]] Looks looks(const Pull& pull) const;
  // The last look was at rows_seldom as well.
  [[nodiscard]] bool saw_all() const { return turn_ == 0; }
  [[nodiscard]] bool is_active(Cause c) const { return (active_ & row_bit(c)) != 0; }
  [[nodiscard]] Finding of(Cause c) const;
  [[nodiscard]] bool any_active() const { return active_ != 0; }
  // The first active row of the table that acts in this group of states.
  [[nodiscard]] Cause first_active(std::uint8_t where) const;
  [[nodiscard]] bool broken() const { return broken_; }

 private:
  [[nodiscard]] Rows circuits(const Switches& is);
  void watch_signals();
  void watch_motion();
  void motion_seen(units::Length x, units::Pressure p);
  void take(Rows looked_at, Rows active, const Pull& pull);
  [[nodiscard]] Rows pull_rows(const Inputs& in, const Pull& pull, const ForcePair& f);
  [[nodiscard]] Rows seldom_rows() const;
  [[nodiscard]] Rows limit_rows(const Pull& pull) const;
  [[nodiscard]] bool rise_is_small() const;
  [[nodiscard]] bool force_is_below() const;
  [[nodiscard]] bool drop_is_small() const;
  [[nodiscard]] bool pressure_is_as_seen() const;
  [[nodiscard]] bool any_still() const;
  [[nodiscard]] bool channels_are_near() const;
  [[nodiscard]] bool moving_under_load() const {
    return advancing_ && state_ != State::slack && state_ != State::take_up;
  }

  // ---- the rows: detector_rows.hpp
  [[nodiscard]] Look look_at(Cause c, const Pull& pull) const;
  [[nodiscard]] Look look_in_pull(Cause c, const Pull& pull) const;
  [[nodiscard]] Look over_force() const;
  [[nodiscard]] Look dead_head() const;
  [[nodiscard]] Look stuck() const;
  [[nodiscard]] Look channels() const;
  [[nodiscard]] Look strand_break() const;
  [[nodiscard]] Look no_motion() const;
  [[nodiscard]] Look phase() const;
  [[nodiscard]] Look of_pull(Cause c, const Pull& pull) const;

  const Jack& jack_;
  const Settings& s_;
  const Measures& m_;
  RawLimits limits_;
  PullInstruction i_;
  const std::uint16_t frame_counts_;                        // pressure limit of the frame
  const std::int32_t near_;                                 // channels, in counts of 200 samples
  const std::int32_t small_drop_;                           // counts of 3 times 64 samples
  std::int32_t below_a_ = INT32_MIN, below_b_ = INT32_MIN;  // counts of 64 samples
  float over_margin_ = 0.0F;                                // N, of the filtered force
  std::int32_t small_rise_ = INT32_MIN, small_rise_starting_ = INT32_MIN;  // counts of four samples
  struct Met {
    std::int32_t value = 0, limit = 0;
  };
  std::array<Met, interlocks.size()> met_{};  // when the row became active
  Rows active_ = 0;

  struct Still {  // a channel that should move: since when it has not, and what the others read then
    std::uint16_t counts = 0;
    std::uint16_t ticks = 0;
    float other = 0.0F, stroke = 0.0F;
  };
  static void watch(Still& still, std::uint16_t counts);

  Still still_a_, still_b_, still_stroke_;
  std::uint8_t over_a_ = 0, over_b_ = 0, over_frame_ = 0;  // samples running
  std::uint16_t differ_ms_ = 0;
  bool circuit_fault_ = false, circuit_opened_ = false;
  std::uint32_t enable_ms_ = 0;
  std::uint16_t driven_ms_ = 0;       // since flow was last commanded on or off
  std::uint16_t idle_motion_ms_ = 0;  // commanded, but nothing has moved for so long
  units::Length motion_stroke_;       // when something has last moved
  units::Pressure motion_pressure_;
  std::int32_t as_seen_ = INT32_MIN;  // counts of 64 samples of both channels: it has not risen since
  State state_ = State::idle;         // of this tick, before its event
  bool in_pull_ = false, advancing_ = false, going_back_ = false, biting_ = false;
  std::uint32_t phase_ms_ = 0;
  std::uint8_t turn_ = 0;  // 0: rows_seldom have theirs
  bool broken_ = false;
};

}  // namespace strandproof::control
