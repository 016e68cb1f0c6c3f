#include "sim/main/pull.hpp"

#include <algorithm>
#include <stdexcept>

#include "sim/bench/fnv.hpp"
#include "sim/bench/machine.hpp"
#include "sim/bench/trace.hpp"
#include "sim/board/flash.hpp"
#include "sim/main/device.hpp"
#include "sim/main/host_session.hpp"
#include "sim/main/local_brain.hpp"
#include "sim/main/why.hpp"

namespace strandproof::sim {
namespace {

std::uint64_t hash_of(const std::vector<std::uint8_t>& bytes) {
  std::uint64_t hash = fnv_start;
  for (const std::uint8_t byte : bytes) {
    hash = fnv(hash, std::uint64_t{byte});
  }
  return hash;
}

Limits limits_of(const Scenario& s, const PlannedPull& p) {
  double air = s.oil.air;
  for (const fault::Fault& f : s.faults) {
    air = f.row->effect == fault::Effect::aerates ? std::max(air, f.amount()) : air;
  }
  return {.force = p.limit,
          .pressure = s.jack.pressure_limit,
          .seated = p.seated,
          .force_window = p.force_window,
          .elongation_min = p.elongation_min,
          .elongation_max = p.elongation_max,
          .tail = s.strand.tail / (s.strand.area * s.strand.modulus),
          .air = air,
          .cap_dead = s.oil.dead_volume / s.jack.area,
          .rod_over_cap = s.jack.rod_area / s.jack.area};
}

void take_record(PullResult& r, HostSession& host) {
  const std::optional<wire::PullRecord> record = host.last_pull();
  r.log = host.log();
  if (!record) {
    return;
  }
  r.recorded = true;
  r.verdict = record->verdict();
  r.recorded_settle_n = record->settle_n();
  r.recorded_locked_n = record->locked_n();
  r.recorded_elongation_m = record->elongation_um() * 1e-6;
}

// The person's commands, then half a second in which records are written.
void work(Bench& bench, HostSession& host, const Scenario& s, PullResult& r) {
  for (const std::string& line : s.operator_lines) {
    bench.person().command(line);
  }
  const double until_s = bench.board().time_s() + s.time_limit;
  while (!bench.person().idle() && bench.board().time_s() < until_s) {
    host.step();
  }
  if (!bench.person().idle()) {
    r.failure = "the pull was not over after " + std::to_string(s.time_limit) + " s; raise time_limit";
    bench.person().abandon();
  } else if (bench.person().failed()) {
    r.failure = bench.person().failure();
  }
  for (int i = 0; i < 500; ++i) {
    host.step();
  }
}

}  // namespace

PlainTable table_from_rig(const Scenario& s) {
  SimBoard board(rig_plant(s), board_of(s, true), {});
  LocalBrain brain(device_of(s));
  Bench bench(board, brain);
  const RigRuns runs = run_rig(bench, s);
  if (!runs.failure.empty()) {
    throw std::runtime_error("rig: " + runs.failure);
  }
  return fit_plain_table(runs);
}

PullResult run_pull(const Scenario& s, const PlainTable& table, const std::string& trace_file,
                    const std::vector<Observer*>& also, Why* why, bool hashes) {
  PullResult r;
  r.plan = plan_pull(s);
  SimBoard board(bed_plant(s), board_of(s, false), s.faults);
  LocalBrain brain(device_of(s));
  Bench bench(board, brain);
  HostSession host(bench, s);
  Checkers checkers(limits_of(s, r.plan));
  Trace trace = trace_file.empty() ? Trace() : Trace(trace_file, {s.name, s.seed});
  bench.watch(r.timeline);
  bench.watch(checkers);
  if (hashes) {
    bench.watch(trace);
  }
  for (Observer* observer : also) {
    bench.watch(*observer);
  }
  if (why != nullptr) {
    why->follow(brain);
    bench.watch(*why);
  }

  r.failure = host.provision(table, r.plan);
  if (r.failure.empty()) {
    work(bench, host, s, r);
    if (const auto status = host.status()) {
      r.refusal = status->refusal();
      r.noise_bytes = status->frames_dropped_bytes();
    }
    take_record(r, host);
  }
  checkers.judge({r.verdict});
  checkers.flash_violations(brain.flash().violations());
  trace.close();

  const Answer& last = bench.answer();
  r.state = last.state;
  r.cause = last.cause;
  r.load_state = last.load_state;
  r.breaches = checkers.breaches();
  const Snapshot& settled = r.timeline.end_of_settle();
  if (settled.taken) {
    r.stop_error_n = settled.force_n - r.plan.jack;
    r.accuracy = (settled.force_n - table_force(table, r.timeline.last_moving(), settled, r.plan.stiffness)) /
                 r.plan.jack;
  }
  r.locked_n = board.truth().F_strand_live;  // the jack still holds what its seals hold
  if (!s.faults.empty()) {
    r.fault_began_s = board.faults().began(0);
  }
  if (hashes) {
    r.trace_hash = trace.hash();
    r.rows = trace.rows();
    r.flash_hash = hash_of(brain.flash_image());
  }
  r.virtual_s = board.time_s();
  return r;
}

int exit_code(const PullResult& r) {
  return r.failure.empty() && r.breaches.empty() && r.verdict == verdict::within_limits ? 0 : 1;
}

}  // namespace strandproof::sim
