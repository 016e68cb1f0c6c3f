// The commands of the operator that take more than one press. Each is a small sequence of moves of
// the hands with the pace of a person.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "sim/bench/operator.hpp"

namespace strandproof::sim {

// Keys held for a time.
struct Move {
  Pendant hands;
  double seconds = 0.0;
};

// Plays moves one after the other; done after the last.
class Moves {
 public:
  void start(std::vector<Move> moves, double now_s);
  // True while there is something left to play; sets the hands.
  bool play(double now_s, Pendant& hands);

 private:
  std::vector<Move> moves_;
  std::size_t next_ = 0;
  double until_s_ = 0.0;
};

// The hands that press one key, or both enables with a moving key.
Pendant nothing();
Pendant confirm();
Pendant select();
Pendant reset();
Pendant pull_keys();   // both enables and advance
Pendant lower_keys();  // both enables and lower

std::unique_ptr<Routine> make_pull();
std::unique_ptr<Routine> make_go_on();
std::unique_ptr<Routine> make_lower();
// Enters a mode: presses select the given number of times in idle, then confirm; done when the
// controller shows the wanted state.
std::unique_ptr<Routine> make_enter(unsigned selects, std::uint8_t wanted);
std::unique_ptr<Routine> make_leave();
std::unique_ptr<Routine> make_pair();
std::unique_ptr<Routine> make_menu_pull();
// The menu from its beginning, `entry` times select and confirm; then, in the list that opens, `choice` times
// select and confirm. 0: no list, or leave it open.
std::unique_ptr<Routine> make_menu(unsigned entry, unsigned choice);
std::unique_ptr<Routine> make_retract();

// At the calibration rig: the slow stage from here on, so that friction is that of a creeping ram and the
// person can let go in time.
inline constexpr double creep_before_n = 2500.0;
// Up (fast, then creeping) or down until the reference cell reads the force, then let go. Down to (nearly)
// nothing: lowering is held on until the oil is out.
std::unique_ptr<Routine> make_up_to(double force_n);
std::unique_ptr<Routine> make_down_to(double force_n);

}  // namespace strandproof::sim
