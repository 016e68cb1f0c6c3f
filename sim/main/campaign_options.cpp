#include "sim/main/campaign_options.hpp"

#include <CLI/CLI.hpp>

namespace strandproof::sim {

void add_choice(CLI::App& command, CampaignChoice& choice) {
  command.add_option("campaign", choice.file, "campaign file (TOML)")->required();
  command.add_option("--pulls", choice.pulls, "pulls, over the file's")->check(CLI::Range(1, 100'000'000));
  command.add_option("--seed", choice.seed, "seed, over the file's")->check(CLI::NonNegativeNumber);
  command.add_option("--sweep", choice.sweeps,
                     "one key over evenly spaced values, e.g. --sweep \"valves.delay=5 ms to 40 ms in 8\"");
}

void add_run(CLI::App& command, CampaignRun& run) {
  command.add_option("-o,--out", run.folder, "folder for results and report")->required();
  command.add_option("--threads", run.threads, "0: all cores")->check(CLI::Range(0, 256));
  command.add_flag("--json", run.json, "the report as JSON");
}

}  // namespace strandproof::sim
