// Checkpoints: when one is due, what it says, and its signature, worked out step by step while nothing moves.
#pragma once

#include <cstdint>

#include "firmware/app/records.hpp"
#include "firmware/crypto/sign_job.hpp"
#include "firmware/record/chained_log.hpp"

namespace strandproof::app {

class Checkpointer {
 public:
  // An epoch that nothing else ends: what an opened jack could make anew is bounded by it.
  static constexpr std::uint32_t records_max = 64;

  Checkpointer(record::ChainedLog& log, const port::Device& device);

  // After a boot, after the record of a pull, after a pairing. What was being signed is begun again.
  void due();
  // One step of the work. Only while nothing moves.
  void step(const Stamp& stamp, std::uint32_t boot);

 private:
  void begin(const Stamp& stamp);
  void finish(const Stamp& stamp, std::uint32_t boot);

  record::ChainedLog& log_;
  crypto::SignJob::Seed seed_{};
  crypto::SignJob job_;
  strandproof_wire_Checkpoint checkpoint_{};
  bool due_ = false;
};

}  // namespace strandproof::app
