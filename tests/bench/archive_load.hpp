// A yard's years as records: the same from the same seed, for benchmarks of the archive.
#pragma once

#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::bench {

// One jack's log, record by record: seven events and a pull with a curve of 128 points, strand after strand,
// 2,500 pulls a year; each bed is detensioned after its last strand. The instruction of each pull beside it.
// Invented data.
class JackYears {
 public:
  static constexpr std::int64_t begin_s = 1704067200;  // 2024-01-01T00:00:00Z
  static constexpr std::int64_t between_s = 365 * 86400 / 2500;
  static constexpr std::uint32_t records_a_pull = 8;
  static constexpr std::uint32_t positions = 24;

  // parts: the curve lies in a record of its own before the pull's, in place of an event.
  JackYears(std::uint32_t serial, std::uint64_t seed, bool parts = false)
      : serial_{serial}, random_{seed + serial}, parts_{parts} {}

  host::archive::StoredRecord next() {
    const std::uint64_t n = sequence_++;
    const auto pull = static_cast<std::uint32_t>(n / records_a_pull);
    const auto step = static_cast<std::uint32_t>(n % records_a_pull);
    wire::Record r;
    if (step + 1 == records_a_pull) {
      fill(*r.mutable_pull(), pull);
    } else if (parts_ && step + 2 == records_a_pull) {
      fill(*r.mutable_curve(), pull);
    } else {
      fill(*r.mutable_event(), pull, step);
    }
    return {serial_, 1 + pull / 10, n + 1, 1000 * n, r.SerializeAsString()};
  }
  // Of a pull, as the host has kept it when it was sent.
  [[nodiscard]] host::archive::SentInstruction instruction_of(std::uint32_t pull) const {
    wire::PullInstruction m;
    m.set_id(pull + 1);
    m.set_bed(bed_of(pull));
    m.set_position(1 + pull % positions);
    m.set_bed_name("bed of the benchmark");
    m.set_strand_name("0.6 in 270");
    m.set_jack_serial(serial_);
    m.set_seated_n(195000);
    m.set_jack_n(198000);
    m.set_stiffness_n_per_m(471000 + pull % 7 * 300);
    m.set_stiffness_ppm(20000);
    m.set_elongation_um(411000);
    const auto sent_s = static_cast<std::int64_t>(time_of(pull)) - 60;
    return {serial_, m.id(), m.bed(), m.position(), m.SerializeAsString(), sent_s};
  }
  static std::uint32_t revision_of(std::uint32_t pull) { return 1 + pull / 1200; }
  [[nodiscard]] std::uint32_t serial() const { return serial_; }
  // Beds are numbered through the yard: each jack has its own.
  [[nodiscard]] std::uint32_t bed_of(std::uint32_t pull) const { return serial_ * 100000 + pull / positions; }

 private:
  void fill(wire::EventRecord& e, std::uint32_t pull, std::uint32_t step) {
    constexpr std::uint32_t codes[] = {11, 7, 2, 2, 2, 16, 2};
    const bool trips = step == 5 && random_() % 40 == 0;
    const bool detensioned = step == 0 && pull % positions == 0 && pull != 0;  // the bed before
    e.set_code(trips ? 3 : detensioned ? 19 : codes[step]);
    e.set_cause(trips ? 14 : 0);
    e.set_state(step + 2);
    e.set_load_state(1 + step % 3);
    e.set_instruction(pull + 1);
    e.set_force_n(static_cast<std::int32_t>(random_() % 200000));
    e.set_stroke_um(static_cast<std::int32_t>(random_() % 500000));
    e.set_detail(step);
    e.set_utc_s(time_of(pull) + 10 * step);
  }
  void fill(wire::PullRecord& p, std::uint32_t pull) {
    p.set_instruction(pull + 1);
    p.set_bed(bed_of(pull));
    p.set_bed_name("bed of the benchmark");
    p.set_position(1 + pull % positions);
    p.set_strand_name(pull % 3 == 0 ? "0.5 in 270" : "0.6 in 270");
    p.set_reel(100 + pull / 60);
    p.set_table_revision(revision_of(pull));
    p.set_origin(1);
    p.set_verdict(random_() % 30 == 0 ? 3 : 1);
    p.set_seated_n(195000);
    p.set_jack_n(198000);
    p.set_settle_n(static_cast<std::int32_t>(197900 + random_() % 200));
    p.set_locked_n(static_cast<std::int32_t>(194900 + random_() % 200));
    p.set_elongation_um(static_cast<std::int32_t>(410000 + random_() % 2000));
    p.set_stiffness_seen_n_per_m(static_cast<std::int32_t>(470000 + random_() % 4000));
    p.set_utc_s(time_of(pull) + 100);
    p.set_jack_serial(serial_);
    p.set_uncertainty_ppm(8000);
    p.set_curve_points(parts_ ? 1 : 0);
    for (int i = 0; i < 128 && !parts_; ++i) {
      p.add_curve_um(static_cast<std::int32_t>(3000 + random_() % 500));
      p.add_curve_n(static_cast<std::int32_t>(1400 + random_() % 300));
    }
  }
  static void fill(wire::CurvePart& part, std::uint32_t pull) {
    part.set_instruction(pull + 1);
    part.set_total(1);
    part.set_points(std::string(3, '\x02'));  // a row of three: 1 ms, 1 um, 1 N
  }
  static std::uint64_t time_of(std::uint32_t pull) {
    return static_cast<std::uint64_t>(begin_s + between_s * static_cast<std::int64_t>(pull));
  }

  std::uint32_t serial_;
  std::mt19937_64 random_;
  bool parts_;
  std::uint64_t sequence_ = 0;
};

}  // namespace strandproof::bench
