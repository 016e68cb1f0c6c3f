// A host computer of the simulation: talks to the jack over its real link in virtual time. Keys and clock
// are fixed patterns, so that runs repeat to the byte; nothing here is a secret.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "proto/peer/peer.hpp"
#include "sim/bench/bench.hpp"
#include "sim/bench/plan.hpp"
#include "sim/bench/rig.hpp"
#include "sim/bench/scenario.hpp"

namespace strandproof::sim {

// Virtual time begins on an invented Monday morning.
inline constexpr std::uint64_t virtual_start_utc_s = 1'772'434'800;  // 2026-03-02T07:00:00Z

class HostSession {
 public:
  HostSession(Bench& bench, const Scenario& scenario);

  // Each runs the bench until the answer is there. Empty: done; else one line with what and the remedy.
  std::string pair();  // and enrols the table key
  std::string set_clock();
  std::string load_table(const PlainTable& table);
  std::string send_instruction(const PlannedPull& plan);
  // Everything a jack needs before a pull, in the order above; the first failure ends it.
  std::string provision(const PlainTable& table, const PlannedPull& plan);

  // Reads the log over the link; the last pull record in it, if there is one.
  std::optional<wire::PullRecord> last_pull();
  // As the jack tells it; nothing where it does not.
  std::optional<wire::Status> status();
  // What last_pull() has read, in order.
  [[nodiscard]] const std::vector<wire::LogRecord>& log() const { return log_; }

  // One bench tick with the link's bytes carried to and fro.
  void step();

 private:
  // Kept out of step(): inlined they have every tick save its registers.
  [[gnu::noinline]] void say(proto::Milliseconds now);
  [[gnu::noinline]] void hear(proto::Milliseconds now);
  std::string run(const char* what);
  std::string person_does(const char* command);

  Bench& bench_;
  Scenario scenario_;
  proto::TableKey table_key_;
  proto::Peer peer_;
  std::vector<wire::LogRecord> log_;
};

// The messages, for other users of the same scenario.
// `origin` of the runs, as on the wire: that of the jack on which the rig was played.
wire::GaugeTable wire_table(const Scenario& scenario, const PlainTable& table, std::uint32_t origin);
wire::PullInstruction wire_instruction(const Scenario& scenario, const PlannedPull& plan);

}  // namespace strandproof::sim
