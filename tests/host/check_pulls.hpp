// An archive with pulls as a jack would have recorded them, for the tests of trend and doubt.
#pragma once

#include "strandproof/wire.pb.h"
#include "tests/host/archive_fixture.hpp"

namespace strandproof::host::archive {

constexpr std::uint32_t test_jack = 1001;

struct MadePull {
  std::uint64_t sequence;
  std::uint32_t position;
  std::uint32_t revision;
  double ratio = 1.0;  // stiffness seen over the plan's
  std::uint32_t verdict = 1;
  std::uint32_t bed = 3;
  std::uint32_t origin = 1;
};

constexpr std::uint32_t plan_k = 500'000;  // N/m, of every instruction here

inline void add_pull(Archive& a, const MadePull& m) {
  const auto id = static_cast<std::uint32_t>(m.sequence);
  wire::PullInstruction plan;
  plan.set_id(id);
  plan.set_stiffness_n_per_m(plan_k);
  plan.set_stiffness_ppm(20'000);
  a.add(SentInstruction{test_jack, id, m.bed, m.position, plan.SerializeAsString(), 1777879800});
  wire::Record r;
  auto& p = *r.mutable_pull();
  p.set_instruction(id);
  p.set_bed(m.bed);
  p.set_position(m.position);
  p.set_bed_name("west line");
  p.set_strand_name("15.7 mm Y1860S7");
  p.set_table_revision(m.revision);
  p.set_verdict(m.verdict);
  p.set_origin(m.origin);
  p.set_load_state(2);
  p.set_seated_n(130'000);
  p.set_locked_n(130'100);
  p.set_settle_n(133'000);
  p.set_uncertainty_ppm(9'000);
  p.set_stiffness_seen_n_per_m(static_cast<std::int32_t>(plan_k * m.ratio + 0.5));
  p.set_utc_s(1777879800 + m.sequence);
  a.add(std::vector<StoredRecord>{{test_jack, 1, m.sequence, m.sequence * 1000, r.SerializeAsString()}});
}

}  // namespace strandproof::host::archive
