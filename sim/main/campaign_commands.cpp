#include "sim/main/campaign_commands.hpp"

#include <atomic>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <stdexcept>
#include <thread>

#include "sim/campaign/engine.hpp"
#include "sim/campaign/report.hpp"
#include "sim/campaign/shrink.hpp"
#include "sim/main/files.hpp"
#include "sim/main/pull.hpp"
#include "sim/main/why.hpp"

namespace strandproof::sim {
namespace {

std::atomic<bool> interrupted{false};

Campaign read(const CampaignChoice& choice) {
  Campaign c = read_campaign(choice.file);
  for (const std::string& sweep : choice.sweeps) {
    add_sweep(c, sweep);
  }
  if (choice.pulls || choice.seed) {
    set_size(c, choice.pulls.value_or(c.pulls), choice.seed.value_or(c.seed));
  }
  if (c.pulls < c.cells()) {
    throw ScenarioError(choice.file + ": " + std::to_string(c.pulls) + " pulls for " +
                        std::to_string(c.cells()) + " swept values; raise pulls");
  }
  return c;
}

std::string quoted(const std::string& text) {
  return "\"" + text + "\"";
}

// What plays a pull of this campaign again, but for its number.
std::string replay_command(const CampaignChoice& choice) {
  std::string text = "strandproof-sim replay " + choice.file;
  for (const std::string& sweep : choice.sweeps) {
    text += " --sweep " + quoted(sweep);
  }
  if (choice.pulls) {
    text += " --pulls " + std::to_string(*choice.pulls);
  }
  return choice.seed ? text + " --seed " + std::to_string(*choice.seed) : text;
}

Outcome outcome_of(const PullResult& p) {
  Outcome o;
  o.verdict = p.recorded ? p.verdict : 0;
  o.cause = p.timeline.first_cause();
  o.cause_s = o.cause == 0 ? -1.0 : p.timeline.first_cause_s();
  o.fault_s = p.fault_began_s;
  o.breach = p.breaches.empty() ? "" : p.breaches.front().check;
  o.failure = p.failure;
  o.duration_s = p.virtual_s;
  o.peak = p.timeline.peak_n() / p.plan.jack;
  o.settled = p.timeline.end_of_settle().taken && p.recorded && p.recorded_locked_n > 0.0;
  if (o.settled) {
    o.stop_error = p.stop_error_n / p.plan.jack;
    o.accuracy = p.accuracy;
    o.locked_error = (p.locked_n - p.recorded_locked_n) / p.recorded_locked_n;
  }
  return o;
}

// With one table for all, that of the base scenario's jack on its rig.
OnePull maker(const Campaign& c) {
  std::shared_ptr<const PlainTable> shared;
  if (!c.calibrate_each) {
    shared = std::make_shared<const PlainTable>(table_from_rig(c.base));
  }
  return [shared](const Scenario& s) {
    const PullResult p = run_pull(s, shared ? *shared : table_from_rig(s), "", {}, nullptr, false);
    Outcome o = outcome_of(p);
    o.fault = s.faults.empty() ? "" : std::string(s.faults.front().row->name);
    return o;
  };
}

Shard parse_shard(const std::string& text) {
  unsigned index = 0;
  unsigned count = 0;
  int used = 0;
  const bool good = std::sscanf(text.c_str(), "%u/%u%n", &index, &count, &used) == 2 &&
                    static_cast<std::size_t>(used) == text.size() && index >= 1 && index <= count &&
                    count <= 10'000;
  if (!good) {
    throw std::runtime_error("--shard " + text + ": is no part such as 2/4, the second of four");
  }
  return {index - 1, count};
}

std::string results_file(const std::string& folder, Shard shard) {
  const std::string part =
      shard.count == 1 ? "" : "-" + std::to_string(shard.index + 1) + "-of-" + std::to_string(shard.count);
  return folder + "/results" + part + ".csv";
}

// Page and JSON beside the results; says what came of it.
int report(const Campaign& c, const CampaignChoice& choice, const std::string& folder, bool json) {
  const Report r = reduce(c, results_file(folder, {}));
  const std::string again = replay_command(choice);
  write_file(folder + "/report.html", report_html(r, again));
  write_file(folder + "/report.json", report_json(r, again));
  std::fputs(json ? report_json(r, again).c_str() : report_text(r, again).c_str(), stdout);
  if (!json) {
    std::printf("report: %s/report.html\n", folder.c_str());
  }
  return r.ends[static_cast<std::size_t>(End::breach)] == 0 ? 0 : 1;
}

// One pull of a campaign as it was drawn, without the parts that are dropped.
struct Again {
  Again(const CampaignChoice& choice, const ReplayChoice& r) : whole{read(choice)}, pull{r.pull} {
    if (pull >= whole.pulls) {
      throw std::runtime_error("pull " + std::to_string(pull) + " is none of this campaign's " +
                               std::to_string(whole.pulls) + "; the first is 0");
    }
    scenario = drawn(whole, pull);
    for (const std::string& part : r.dropped) {
      drop_part(whole, scenario, part);
    }
  }

  PullResult run(const std::string& trace, Why* seen) const {
    return run_pull(scenario, table_from_rig(whole.calibrate_each ? scenario : whole.base), trace, {}, seen);
  }
  void print_parts() const {
    std::printf("pull %u of campaign \"%s\"\n", pull, whole.name.c_str());
    for (const std::string& part : drawn_parts(whole, scenario)) {
      std::printf("  %s\n", part_text(scenario, part).c_str());
    }
  }

  Campaign whole;
  std::uint32_t pull;
  Scenario scenario;
};

void show(const Progress& p) {
  std::fprintf(stderr, "\r%u of %u pulls, %.1f a second, %.0f s left   ", p.done, p.of, p.per_s, p.left_s);
}

}  // namespace

int campaign(const CampaignChoice& choice, const CampaignRun& run) {
  const Campaign c = read(choice);
  const Shard shard = parse_shard(run.shard);
  std::filesystem::create_directories(run.folder);
  std::signal(SIGINT, [](int) { interrupted = true; });
  std::signal(SIGTERM, [](int) { interrupted = true; });
  RunOptions options;
  options.threads = run.threads == 0 ? std::max(1U, std::thread::hardware_concurrency()) : run.threads;
  options.shard = shard;
  options.results = results_file(run.folder, shard);
  if (!run.quiet) {
    options.progress = show;
  }
  options.stop = &interrupted;
  const bool complete = run_campaign(c, options, maker(c));
  if (!run.quiet) {
    std::fputs("\n", stderr);
  }
  if (!complete) {
    std::fprintf(stderr, "stopped; the pulls that ended are in %s, the same command goes on\n",
                 options.results.c_str());
    return 1;
  }
  if (run.joined) {
    return 0;
  }
  if (shard.count > 1) {
    std::printf("shard %s is complete: %s; when all are in this folder: strandproof-sim merge %s %s\n",
                run.shard.c_str(), options.results.c_str(), choice.file.c_str(), run.folder.c_str());
    return 0;
  }
  return report(c, choice, run.folder, run.json);
}

int merge(const CampaignChoice& choice, const std::string& folder, bool json) {
  const Campaign c = read(choice);
  for (std::uint32_t count = 2; count <= 10'000; ++count) {
    if (!std::filesystem::exists(results_file(folder, {0, count}))) {
      continue;
    }
    std::vector<std::string> shards;
    for (std::uint32_t i = 0; i < count; ++i) {
      shards.push_back(results_file(folder, {i, count}));
    }
    merge_results(shards, results_file(folder, {}), c);
    return report(c, choice, folder, json);
  }
  throw std::runtime_error(folder + ": holds no results-1-of-N.csv; run the shards with -o " + folder);
}

int replay(const CampaignChoice& choice, const ReplayChoice& r) {
  const Again again(choice, r);
  const auto start = std::chrono::steady_clock::now();
  const PullResult result = again.run(r.trace, nullptr);
  const double wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  if (r.json) {
    std::fputs(summary_json(again.scenario, result, wall_s).c_str(), stdout);
    return exit_code(result);
  }
  again.print_parts();
  std::fputs(summary(again.scenario, result, wall_s).c_str(), stdout);
  return exit_code(result);
}

int why(const CampaignChoice& choice, const ReplayChoice& r) {
  const Again again(choice, r);
  Why seen;
  const PullResult result = again.run(r.trace, &seen);
  if (r.json) {
    std::fputs(why_json(seen.rows()).c_str(), stdout);
    return exit_code(result);
  }
  again.print_parts();
  std::fputs(result_text(result).c_str(), stdout);
  std::fputs(why_text(seen.rows()).c_str(), stdout);
  return exit_code(result);
}

int shrink_pull(const CampaignChoice& choice, std::uint32_t pull) {
  const Campaign c = Again(choice, {.pull = pull, .dropped = {}, .trace = {}}).whole;
  const Shrunk r = shrink(c, pull, maker(c), [](const std::string& line) {
    std::printf("  %s\n", line.c_str());
    std::fflush(stdout);
  });
  std::printf("pull %u: %s; %u pulls tried\n", pull, std::string(end_text(end_of(r.outcome))).c_str(),
              r.runs);
  std::string command = replay_command(choice) + " " + std::to_string(pull);
  for (const std::string& part : r.dropped) {
    command += " --drop " + quoted(part);
  }
  Scenario s = drawn(c, pull);
  for (const std::string& part : r.dropped) {
    drop_part(c, s, part);
  }
  std::printf("what matters:\n");
  for (const std::string& part : r.kept) {
    std::printf("  %s\n", part_text(s, part).c_str());
  }
  if (r.kept.empty()) {
    std::printf("  nothing that was drawn: the base scenario ends like this\n");
  }
  std::printf("%s\n", command.c_str());
  return 0;
}

}  // namespace strandproof::sim
