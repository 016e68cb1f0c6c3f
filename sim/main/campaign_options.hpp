// The options that say which campaign and where it goes, the same for every program that runs one.
#pragma once

#include "sim/main/campaign_commands.hpp"

namespace CLI {
class App;
}

namespace strandproof::sim {

void add_choice(CLI::App& command, CampaignChoice& choice);
void add_run(CLI::App& command, CampaignRun& run);

}  // namespace strandproof::sim
