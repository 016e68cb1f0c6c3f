// The commands about many pulls: campaign, merge, replay, why, shrink.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace strandproof::sim {

// Which campaign, and what the command line puts over its file.
struct CampaignChoice {
  std::string file;
  std::optional<std::uint32_t> pulls;
  std::optional<std::uint64_t> seed;
  std::vector<std::string> sweeps;
};

struct CampaignRun {
  std::string folder;
  unsigned threads = 0;       // 0: all cores
  std::string shard = "1/1";  // "2/4": the second of four
  bool json = false;
  bool quiet = false;   // does not tell how far it is
  bool joined = false;  // somebody merges the shards afterwards: not told to do it
};

struct ReplayChoice {
  std::uint32_t pull = 0;
  std::vector<std::string> dropped;
  std::string trace;
  bool json = false;
};

// Exit codes of the house: 0 no limit breached, 1 a limit breached (campaign, merge) or the pull not within
// limits (replay), or stopped before its end; 2 by exception.
int campaign(const CampaignChoice& choice, const CampaignRun& run);
int merge(const CampaignChoice& choice, const std::string& folder, bool json);
int replay(const CampaignChoice& choice, const ReplayChoice& replay);
// What each row of the interlock table saw in that pull; exit code as of replay.
int why(const CampaignChoice& choice, const ReplayChoice& replay);
int shrink_pull(const CampaignChoice& choice, std::uint32_t pull);

}  // namespace strandproof::sim
