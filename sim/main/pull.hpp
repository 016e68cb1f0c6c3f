// One whole pull in virtual time: rig, pairing, table, instruction, pull, log, verdict.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/bench/plan.hpp"
#include "sim/bench/rig.hpp"
#include "sim/bench/scenario.hpp"
#include "sim/bench/timeline.hpp"
#include "sim/checkers/checkers.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::sim {

// What an ended pull is judged and told by.
struct PullResult {
  std::string failure;            // empty, or what kept the pull from being made
  std::uint32_t refusal = 0;      // as the jack shows it, where it was refused
  std::uint32_t noise_bytes = 0;  // that came over the link and were no frame, as the jack counts them
  std::uint32_t verdict = 0;      // as recorded
  bool recorded = false;          // a pull record was read back over the link
  double recorded_settle_n = 0.0, recorded_locked_n = 0.0, recorded_elongation_m = 0.0;
  std::uint8_t state = 0, cause = 0, load_state = 0;  // at the end
  PlannedPull plan;
  Timeline timeline;
  std::vector<Breach> breaches;
  double stop_error_n = 0.0;  // true force at the end of settle less the jack force
  double accuracy = 0.0;      // interface.md, control accuracy, relative
  double locked_n = 0.0;      // true
  std::uint64_t trace_hash = 0, flash_hash = 0, rows = 0;
  double virtual_s = 0.0;            // of the pull, without rig
  std::vector<wire::LogRecord> log;  // every record, in order
  double fault_began_s = -1.0;       // of the first fault of the scenario; negative: it never began
};

// Runs the rig in the same jack and fits the plain table. Throws std::runtime_error.
PlainTable table_from_rig(const Scenario& scenario);

class Why;

// trace: file of every tick (sim/bench/trace_file.hpp), or empty. Throws std::runtime_error if it can not be
// written. also: who else wants to see each tick; why: filled if given; hashes: of trace and memory, which a
// campaign does not keep.
PullResult run_pull(const Scenario& scenario, const PlainTable& table, const std::string& trace,
                    const std::vector<Observer*>& also = {}, Why* why = nullptr, bool hashes = true);

// Exit code of the house: 0 good, 1 refused or outside limits.
int exit_code(const PullResult& result);
// End of settle, record, first cause, refusal and load state, a line each.
std::string result_text(const PullResult& result);
std::string summary(const Scenario& scenario, const PullResult& result, double wall_s);
std::string summary_json(const Scenario& scenario, const PullResult& result, double wall_s);

}  // namespace strandproof::sim
