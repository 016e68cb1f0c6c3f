#include "firmware/control/stop.hpp"

namespace strandproof::control {

void RunOn::cut(const StrokeLine& stroke) {
  cut_ = stroke;
}

void RunOn::rest(units::Length at) {
  if (learned_ || !(cut_.speed > settings_.learn_speed_min)) {
    return;
  }
  const float seconds = (at - cut_.at).si() / cut_.speed;
  seconds_ = !(seconds > 0.0F) ? 0.0F : seconds < settings_.run_on_max_s ? seconds : settings_.run_on_max_s;
  learned_ = true;
}

units::Force predicted(const ForceLine& f, float deviation_n, float run_on_s, const Settings& s) {
  return f.force + units::Force::from_si(f.rate * run_on_s - s.first_passage * deviation_n);
}

}  // namespace strandproof::control
