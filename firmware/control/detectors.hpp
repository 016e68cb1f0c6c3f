// The predicates of the interlock rows: each looks at measurements and says since this tick "active", with
// the value that met its limit. What follows from it is the interlock table's and the core's business.
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

// What a row saw in the last tick, whether it tripped or not.
struct Look {
  float value = 0.0F, limit = 0.0F;  // as of Finding; a row that only says yes or no has neither
  bool judged = false;               // it was looked at in that tick
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
  Detectors(const Jack& jack, const Settings& s, const Measures& m) : jack_{jack}, s_{s}, m_{m} {}

  // Raw limits of this instruction under this table.
  [[nodiscard]] RawLimits limits(const PullInstruction& i, const GaugeTable& t) const;
  void arm(const RawLimits& limits, const PullInstruction& i);
  void flow_changed(bool driven);
  void look(const Inputs& in, const CoreState& core, const Commands& driven, const Pull& pull,
            const ForcePair& f);

  [[nodiscard]] const Finding& of(Cause c) const { return finding_[row_of(c)]; }
  [[nodiscard]] const Looks& looks() const { return looks_; }
  // The first active row of the table that acts in this group of states.
  [[nodiscard]] Cause first_active(std::uint8_t where) const;
  [[nodiscard]] bool broken() const { return broken_; }

 private:
  void set(Cause c, bool active, float value, float limit, bool judged = true);
  void circuits(const Inputs& in);
  void signals(const Inputs& in, const ForcePair& f);
  void raw_force();
  void dead_head(bool in_pull_now);
  void stuck(bool moving_under_load);
  void channels();
  void break_of_strand();
  void motion(const Commands& driven);
  void pull_limits(const CoreState& core, const Pull& pull);
  void phase(const CoreState& core);

  const Jack& jack_;
  const Settings& s_;
  const Measures& m_;
  RawLimits limits_;
  PullInstruction i_;
  std::array<Finding, interlocks.size() + 1> finding_{};  // the last: of causes that have no row here
  Looks looks_{};

  struct Still {  // a channel that should move: since when it has not, and what the others read then
    std::uint16_t counts = 0;
    std::uint16_t ticks = 0;
    float other = 0.0F, stroke = 0.0F;
  };
  static void watch(Still& still, std::uint16_t counts, float other, float stroke);

  Still still_a_, still_b_, still_stroke_;
  std::uint8_t over_a_ = 0, over_b_ = 0, over_frame_ = 0;  // samples running
  std::uint16_t differ_ms_ = 0;
  bool circuit_fault_ = false, circuit_opened_ = false;
  std::uint32_t enable_ms_ = 0;
  std::uint16_t driven_ms_ = 0;       // since flow was last commanded on or off
  std::uint16_t idle_motion_ms_ = 0;  // commanded, but nothing has moved for so long
  float motion_stroke_ = 0.0F, motion_pressure_ = 0.0F;
  State phase_state_ = State::idle;
  std::uint32_t phase_ms_ = 0;
  bool broken_ = false;
};

}  // namespace strandproof::control
