// The person at the pendant: a list of commands, worked one after the other in virtual time. The same
// lines come from a scenario, from the operator channel of `serve`, and from the bench itself.
//
//   press KEY [200 ms]          press and let go; keys: enable (both) enable-1 enable-2 advance lower
//                               select confirm reset
//   hold KEY...                 press and keep pressed
//   release KEY... | all        let go
//   wait 2 s                    wait this long
//   wait state NAME... [within 60 s]   until the controller shows one of these states
//   pull                        the whole pull as a trained person works it, to the end or to a stop
//   go-on                       from a stop: reset, confirm what is asked, go on with the pull
//   lower-to-no-load            from a stop: reset, choose lower, lower to no load
//   pair                        open the pairing window; when the digits agree: press confirm
//   menu-pull                   the menu's cursor back to PULL: one press of reset in idle
//   enrol-table-key             open the enrolment; when the fingerprints agree: press confirm
//   revoke-table-key 1          revoke the n-th key of the list at the pendant
//   part-changed PART           name the changed part: sensor-a sensor-b seal hose jack
//   change-copies-needed        copies of the log that must hold a record: from 2 to 1, or back
//   forget-copy 1               the n-th copy of the log at the pendant, lost for ever
//   retract                     in idle: enter set-up, run the ram home, leave
//   set-up, rig, leave          enter and leave the modes
//   up-to 30 kN, down-to 20 kN  at the rig: until the reference cell reads it, then let go; 0 N: to no load
//   bed-detensioned             say that the strands of this bed were detensioned
//
// What is reported: a command that could not be done in its time ends the list with a failure text.
#pragma once

#include <cstdint>
#include <deque>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/board/pendant.hpp"

namespace strandproof::sim {

class Brain;

// What the person sees, as the controller shows it.
struct View {
  double time_s = 0.0;
  std::uint8_t state = 0, cause = 0, load_state = 0;
  double stroke_m = 0.0;         // of the ram, which the person sees
  double cell_n = 0.0;           // the reference cell's read-out, at the rig
  const Brain* brain = nullptr;  // whose display can be read; may be null
};

// One command being carried out.
class Routine {
 public:
  enum class Progress : std::uint8_t { going, done, failed };
  virtual ~Routine() = default;
  virtual Progress step(const View& view, Pendant& hands) = 0;
  [[nodiscard]] virtual std::string why_failed() const { return {}; }
};

class Operator {
 public:
  // Appends the command of one line. Throws std::invalid_argument with what is wrong and the remedy.
  void command(std::string_view line);
  // Called once a tick, before the board samples.
  const Pendant& tick(const View& view);

  [[nodiscard]] bool idle() const { return !current_ && queue_.empty(); }
  [[nodiscard]] bool failed() const { return !failure_.empty(); }
  [[nodiscard]] const std::string& failure() const { return failure_; }
  std::string take_failure() { return std::exchange(failure_, {}); }  // and goes on as if nothing was
  [[nodiscard]] Pendant& hands() { return hands_; }                   // for a keyboard pendant
  void abandon();  // drops all commands and lets go of everything

 private:
  struct Step {
    std::string line;
    std::unique_ptr<Routine> routine;
  };
  // Kept out of tick(): inlined they have every tick save its registers.
  [[gnu::noinline]] void begin();
  [[gnu::noinline]] void end(Routine::Progress how);

  std::deque<Step> queue_;
  std::unique_ptr<Routine> current_;
  std::string line_, failure_;
  Pendant hands_;
};

// Makes the routine of one line; used by Operator::command and by the scenario's check.
std::unique_ptr<Routine> make_routine(std::string_view line);

}  // namespace strandproof::sim
