// The values of the rows, for a trip: which row is asked in which state, and what of it is shown.
#include "firmware/control/detector_rows.hpp"

namespace strandproof::control {

Looks Detectors::looks(const Pull& pull) const {
  Looks all{};
  for (unsigned row = 0; row < interlocks.size(); ++row) {
    all[row] = look_at(interlocks[row].cause, pull);
  }
  return all;
}

Look Detectors::look_at(Cause c, const Pull& pull) const {
  const auto plain = [&](float value, float limit) {
    return Look{.value = value, .limit = limit, .judged = true, .active = is_active(c)};
  };
  switch (c) {
    case Cause::emergency_stop:
    case Cause::h47_barrier_open:
      return plain(0.0F, 0.0F);
    case Cause::h16_stop_circuit:
      return plain(static_cast<float>(differ_ms_), static_cast<float>(s_.stop_circuit_ms));
    case Cause::h17_enable_held:
      return plain(static_cast<float>(enable_ms_), static_cast<float>(s_.enable_max_ms));
    case Cause::phase_time:
      return phase();
    case Cause::h02_dead_headed:
      return dead_head();
    case Cause::h11_no_motion:
      return in_pull_ || going_back_ ? no_motion() : Look{};
    default:
      return in_pull_ ? look_in_pull(c, pull) : Look{};
  }
}

Look Detectors::look_in_pull(Cause c, const Pull& pull) const {
  const auto plain = [&](float value) {
    return Look{.value = value, .limit = 0.0F, .judged = true, .active = is_active(c)};
  };
  switch (c) {
    case Cause::h44_not_a_number:
    case Cause::h20_table_changed:
      return plain(0.0F);
    case Cause::h04_signal_lost:  // which one: 1 and 2 the pressures, 3 the stroke
      return plain(!m_.a_good() ? 1.0F : !m_.b_good() ? 2.0F : m_.stroke.signal().failed() ? 3.0F : 0.0F);
    case Cause::h01_over_force:
      return over_force();
    case Cause::h05_signal_stuck:
      return stuck();
    case Cause::h06_channels_disagree:
      return channels();
    case Cause::h14_strand_break:
      return strand_break();
    default:
      return of_pull(c, pull);
  }
}

}  // namespace strandproof::control
