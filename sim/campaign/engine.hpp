// Runs the pulls of a campaign on threads. How one pull is made is handed in: this room knows no firmware.
#pragma once

#include <atomic>
#include <functional>
#include <string>

#include "sim/campaign/campaign.hpp"
#include "sim/campaign/outcome.hpp"
#include "sim/campaign/results.hpp"

namespace strandproof::sim {

struct Progress {
  std::uint32_t done = 0, of = 0;  // of this shard, those found in the file included
  double per_s = 0.0;              // of this run
  double left_s = 0.0;
};

struct RunOptions {
  unsigned threads = 1;
  Shard shard;
  std::string results;                              // file
  std::function<void(const Progress&)> progress{};  // about twice a second, from the calling thread
  const std::atomic<bool>* stop = nullptr;          // set: no further pull is begun
};

// One pull; what it throws becomes the outcome's failure. Called from several threads at once.
using OnePull = std::function<Outcome(const Scenario&)>;

// True if the shard's results are complete; false if it was stopped. Throws std::runtime_error as Results
// does.
bool run_campaign(const Campaign& campaign, const RunOptions& options, const OnePull& one);

}  // namespace strandproof::sim
