// The operator channel: one line in, one line out.
//   the operator's own commands (sim/bench/operator.hpp): answered "done" when they are done, or
//     "failed: why"; a stop is an answer too: "done state=stopped ..."
//   fault NAME at 78 kN|12 s|300 mm|now [lasts 3 s]   a time counts from now
//   end NAME        unlatch the stop, close the barrier, mend the sensor
//   thread          the next strand of the bed, slack; the jack must carry nothing and its ram be home
//   power           the supply goes and comes back: the firmware boots from its memory
//   status          state, load, cause, true force and stroke
//   display         the four lines
//   drop            forget what is being done and let go of everything
//   quit
#pragma once

#include <optional>
#include <string>

#include "sim/bench/bench.hpp"
#include "sim/main/local_brain.hpp"

namespace strandproof::sim {

class ChannelCommands {
 public:
  ChannelCommands(Bench& bench, LocalBrain& brain) : bench_{bench}, brain_{brain} {}

  // Takes a line. The answer, or nothing if it comes later through finished().
  std::optional<std::string> take(const std::string& line);
  // Called after each batch of ticks: the answer of a command that has now come to its end.
  std::optional<std::string> finished();
  [[nodiscard]] bool quit() const { return quit_; }
  [[nodiscard]] std::string status() const;

 private:
  std::string thread();
  std::string fault(const std::string& rest);
  std::string end_fault(const std::string& name);
  Bench& bench_;
  LocalBrain& brain_;
  bool waiting_ = false, quit_ = false;
};

}  // namespace strandproof::sim
