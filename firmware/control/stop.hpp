// When to cut the flow: so early that the force comes to rest at the jack force. How much the ram runs on
// after a cut is learned in this very pull, at the stop for the datum, which is made at full speed.
#pragma once

#include "firmware/control/measures.hpp"
#include "firmware/control/settings.hpp"

namespace strandproof::control {

class RunOn {
 public:
  explicit RunOn(const Settings& s) : settings_{s}, seconds_{s.run_on_default_s} {}
  void reset() { *this = RunOn{settings_}; }
  // At the tick that cuts the flow.
  void cut(const StrokeLine& stroke);
  // When the ram has come to rest, at this stroke.
  void rest(units::Length at);
  [[nodiscard]] float seconds() const { return seconds_; }
  [[nodiscard]] bool learned() const { return learned_; }
  RunOn& operator=(const RunOn& o) {  // the settings are one object for all
    seconds_ = o.seconds_, cut_ = o.cut_, learned_ = o.learned_;
    return *this;
  }
  RunOn(const RunOn&) = default;

 private:
  const Settings& settings_;
  float seconds_;
  StrokeLine cut_;
  bool learned_ = false;
};

// Where the force will come to rest if the flow is cut now, less the earliness that noise gives a
// threshold. Compare with the jack force.
[[nodiscard]] units::Force predicted(const ForceLine& f, float deviation_n, float run_on_s,
                                     const Settings& s);

}  // namespace strandproof::control
