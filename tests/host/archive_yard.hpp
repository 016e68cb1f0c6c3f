// Records of an invented yard, and what is in them, told apart from how the archive reads them.
#pragma once

#include <fmt/core.h>

#include <cstdint>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::archive {

inline constexpr std::int64_t yard_begin = 1767225600;  // 2026-01-01T00:00:00Z

struct YardRecord {
  std::uint32_t device = 0;
  std::uint64_t sequence = 0;
  bool pull = false;
  std::int64_t utc_s = 0;
  std::uint32_t instruction = 0, bed = 0, position = 0, reel = 0, table = 0, verdict = 0, event = 0,
                cause = 0;
  std::int32_t stiffness = 0;
  std::string strand{};
};

// Of each jack from 1001 on so many pulls an hour apart, three events before each; every tenth pull trips.
inline std::vector<YardRecord> yard_facts(std::uint32_t jacks, std::uint32_t pulls) {
  std::vector<YardRecord> all;
  for (std::uint32_t device = 1001; device < 1001 + jacks; ++device) {
    std::uint64_t sequence = 0;
    for (std::uint32_t n = 0; n < pulls; ++n) {
      const std::int64_t at = yard_begin + 3600 * static_cast<std::int64_t>(n);
      const bool trips = n % 10 == 9;
      for (const std::uint32_t event : {7U, 2U, trips ? 3U : 16U})
        all.push_back({.device = device,
                       .sequence = ++sequence,
                       .utc_s = at,
                       .instruction = n + 1,
                       .event = event,
                       .cause = event == 3 ? 14U : 0U});
      all.push_back({.device = device,
                     .sequence = ++sequence,
                     .pull = true,
                     .utc_s = at + 60,
                     .instruction = n + 1,
                     .bed = 1 + n / 8,
                     .position = 1 + n % 8,
                     .reel = 10 + n / 20,
                     .table = 1 + n / 25,
                     .verdict = trips        ? 5U
                                : n % 7 == 3 ? 3U
                                             : 1U,
                     .cause = trips ? 14U : 0U,
                     .stiffness = static_cast<std::int32_t>(470000 + 100 * n),
                     .strand = n % 2 == 0 ? "0.6 in 270" : "12.5 mm 1860"});
    }
  }
  return all;
}

inline std::string yard_body(const YardRecord& r) {
  wire::Record record;
  if (!r.pull) {
    auto& e = *record.mutable_event();
    e.set_code(r.event);
    e.set_cause(r.cause);
    e.set_instruction(r.instruction);
    e.set_utc_s(static_cast<std::uint64_t>(r.utc_s));
    return record.SerializeAsString();
  }
  auto& p = *record.mutable_pull();
  p.set_instruction(r.instruction);
  p.set_bed(r.bed);
  p.set_bed_name("bed of the test");
  p.set_position(r.position);
  p.set_reel(r.reel);
  p.set_table_revision(r.table);
  p.set_verdict(r.verdict);
  p.set_cause(r.cause);
  p.set_strand_name(r.strand);
  p.set_jack_serial(r.device);
  p.set_origin(1);
  p.set_utc_s(static_cast<std::uint64_t>(r.utc_s));
  p.set_stiffness_seen_n_per_m(r.stiffness);
  return record.SerializeAsString();
}

inline std::vector<StoredRecord> yard(std::uint32_t jacks, std::uint32_t pulls) {
  std::vector<StoredRecord> all;
  for (const auto& r : yard_facts(jacks, pulls))
    all.push_back({r.device, 1, r.sequence, r.sequence * 1000, yard_body(r)});
  return all;
}

inline SentInstruction yard_instruction(const YardRecord& pull, std::uint32_t stiffness) {
  wire::PullInstruction m;
  m.set_id(pull.instruction);
  m.set_bed(pull.bed);
  m.set_position(pull.position);
  m.set_stiffness_n_per_m(stiffness);
  return {pull.device, pull.instruction, pull.bed, pull.position, m.SerializeAsString(), pull.utc_s - 600};
}

// An archive that has something of every table.
inline void fill(Archive& a, std::uint32_t jacks, std::uint32_t pulls) {
  a.add(yard(jacks, pulls));
  for (const auto& r : yard_facts(jacks, pulls)) {
    if (r.pull) a.add(yard_instruction(r, 470000));
  }
  a.add(LoadedTable{1001, 2, "00ff", "{}", 5},
        {1001, Act::loaded, 5, "technician", "calibrated", 2, "00ff", "ab", 41, 0, ""});
  a.add(Entry{.at_s = 10, .by = "crew lead", .bed = 1, .words = "wedge replaced"});
  a.add(SignOff{1, "engineer", 20, 4, 99, "00ff"});
  a.keep("runs.csv", "run,direction\n", 5);
  a.add(JackSeen{1001, 10, "1.0", 1, "1.4", 0, 2, 1});
}

}  // namespace strandproof::host::archive
