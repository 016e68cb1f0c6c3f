// The simulated jack on its bed, or on its calibration rig: equations only. SI doubles, the textbook's
// letters, + - * / and square roots only, so that every machine computes the same bits.
#pragma once

#include <cstring>
#include <memory>
#include <type_traits>

#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

// Equal, asked of all their bytes at once: asked of one switch after the other it costs three times as much,
// and it is asked every tick.
template <class Switches>
[[nodiscard]] bool same(const Switches& a, const Switches& b) {
  static_assert(std::has_unique_object_representations_v<Switches>);
  return std::memcmp(&a, &b, sizeof(Switches)) == 0;
}

// What the electrical outputs do to the machine. All false: blocked, the load is held.
struct Drive {
  bool motor = false, fast_stage = false;
  bool advance = false;        // extends the ram: pulls
  bool lower = false;          // opens the load-holding valve onto the throttle and feeds the retract side
  bool seat = false;           // pushes the wedge tube
  bool shut_off_open = false;  // no flow between pump and jack without it, and no pilot pressure either
};

// What moves within a tick. Pressures are gauge pressures in Pa; the ram's stroke is 0 when it is in, and
// pulling is the positive direction. Doubles only: between two of them lies the straight line.
struct Moving {
  double p_cap = 0.0;          // advance chamber
  double p_rod = 0.0;          // retract chamber
  double p_pump = 0.0;         // hose, before the valves
  double x_ram = 0.0;          // m
  double v_ram = 0.0;          // m/s
  double F_strand_live = 0.0;  // N, strand force at the live-end chuck, whether jack or chuck carries it
  double F_jack = 0.0;         // N, carried by the jack (strand's tail, or the rig's spring pack)
  double F_chuck = 0.0;        // N, carried by the live-end chuck
  double F_friction = 0.0;     // N, on the ram, positive against pulling
  double elongation =
      0.0;  // m, movement of the strand at the live-end chuck since it was threaded, slack included
  double draw_in = 0.0;        // m, the strand has moved back through the live end while the wedges took hold
  double dead_draw_in = 0.0;   // m
  double slack_left = 0.0;     // m, still to take up
  double wedges_pushed = 0.0;  // 0: not pushed, 1: pushed right in by the seating tube
  // Energies since the start, J.
  double W_pump = 0.0;      // from the pump into the hose
  double W_oil = 0.0;       // from the oil to the ram: both chambers' pressure times swept volume
  double W_friction = 0.0;  // lost in the seals
  double W_load = 0.0;      // from the ram to strand or spring pack
};

// Behind the sensors' lags; noise and converters are the board's.
struct Sensed {
  double p_a = 0.0, p_b = 0.0;  // Pa
  double stroke = 0.0;          // m
  double cell = 0.0;            // N, load cell at the jack or reference cell of the rig
};

// What really is.
struct Truth : Moving, Sensed {
  bool broken = false;  // and the live end has felt it
  double Q_pump = 0.0;  // m3/s into the hose at its pressure
  double T_oil = 20.0;  // degC
};

// What has gone wrong with the machine; the defaults are a sound one. Shares are of the sound value.
struct Ailments {
  static constexpr double same = -1e3;  // as the parameters have it
  unsigned wires_lost = 0;              // of seven, over the whole free length
  double free_length = 1.0;             // share of the strand that is free to stretch: it hangs in a spacer
  double wires_at = 0.0;                // m from the live end, where they broke,
  double snag_at = 0.0;                 // and where it hangs
  double abutment = 1.0;                // share of the abutments' stiffness
  double pump = 1.0;                    // share of the flow
  double relief = 0.0;                  // Pa, cracking pressure; 0: its own
  double T_oil = same;                  // degC
  double air = same;                    // share of air in the oil; it comes in without a jump of pressure
  bool a_at_pump = false, b_at_pump = false;  // taps before the load-holding valve
  bool hose_burst = false;                    // the line has no pressure before the valves
  double leak = 0.0;                          // m3/s at 30 MPa past the load-holding valve
  double piston_leak = 0.0;                   // m3/s at 30 MPa past the piston
  friend bool operator==(const Ailments&, const Ailments&) = default;
};

// Where strand or wedges slide.
enum class Slip { dead_end, live_end, grip };

class Plant {
 public:
  // Throws std::invalid_argument naming the parameter that can not be (an area of zero, say).
  explicit Plant(const Parameters& parameters);
  ~Plant();
  Plant(Plant&& other) noexcept;
  Plant& operator=(Plant&& other) noexcept;

  // One tick of one millisecond.
  void step(const Drive& drive);
  [[nodiscard]] const Truth& truth() const;

  // What happens along the strand is felt at the live end when the wave arrives, no tick earlier: the whole
  // ticks of distance over sqrt(E/rho).
  [[nodiscard]] int wave_ticks(double from_live_end) const;
  // All wires at once, so many m from the live end. Nothing on the rig.
  void break_strand(double from_live_end);
  // Until it is called again; the strand's part with the wave. Oil, friction and what strand and wedges
  // remember stay.
  void ail(const Ailments& ailments);
  // By this much, m; at the dead end with the wave. At the live end only what the wedges hold.
  void slip(Slip where, double by);
  // The next strand of the bed: whole, slack, gripped at the ram's present stroke, wedges free again. The
  // jack must carry nothing; false and no change if it does.
  [[nodiscard]] bool thread_strand();

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace strandproof::plant
