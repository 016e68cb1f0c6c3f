// strandproof-sim: the simulated jack's program.
#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <exception>

#include "sim/bench/keys.hpp"
#include "sim/bench/machine.hpp"
#include "sim/bench/scenario.hpp"
#include "sim/bench/trace.hpp"
#include "sim/main/campaign_options.hpp"
#include "sim/main/device.hpp"
#include "sim/main/files.hpp"
#include "sim/main/fit_command.hpp"
#include "sim/main/lines.hpp"
#include "sim/main/local_brain.hpp"
#include "sim/main/pull.hpp"
#include "sim/main/serve.hpp"
#include "sim/main/why.hpp"

namespace strandproof::sim {
namespace {

constexpr int wrong_use = 2;

// What every command that takes a scenario has.
struct Common {
  std::string file;
  std::uint64_t seed = 0;
  bool seeded = false;
  std::vector<std::string> sets;

  void add_to(CLI::App& command) {
    command.add_option("scenario", file, "scenario file (TOML); without it the embedded one");
    command.add_option("--seed", seed, "seed of the noise, 0 or more")
        ->check(CLI::NonNegativeNumber)
        ->each([this](const std::string&) { seeded = true; });
    command.add_option("--set", sets, "key=value over the scenario, e.g. --set strand.length=\"80 m\"");
  }
  [[nodiscard]] Scenario scenario() const {
    Scenario s = file.empty() ? Scenario{} : read_scenario(file);
    for (const std::string& assignment : sets) {
      set_value(s, assignment);
    }
    if (seeded) {
      s.seed = seed;
    }
    return s;
  }
};

std::string now_iso() {
  const std::time_t now = std::time(nullptr);
  std::tm utc{};
  gmtime_r(&now, &utc);
  std::array<char, 32> text{};
  std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%S+00:00", &utc);
  return text.data();
}

int pull(const Common& common, const std::string& trace, bool json, bool why_too) {
  const Scenario s = common.scenario();
  const PlainTable table = table_from_rig(s);
  const auto start = std::chrono::steady_clock::now();
  Why seen;
  const PullResult result = run_pull(s, table, trace, {}, why_too ? &seen : nullptr);
  const double wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  std::fputs((json ? summary_json(s, result, wall_s) : summary(s, result, wall_s)).c_str(), stdout);
  if (why_too) {
    std::fputs(why_text(seen.rows()).c_str(), stdout);
  }
  return exit_code(result);
}

int rig(const Common& common, const std::string& out, const std::string& taken_at,
        const std::string& trace_file) {
  const Scenario s = common.scenario();
  SimBoard board(rig_plant(s), board_of(s, true), {});
  LocalBrain brain(device_of(s));
  Bench bench(board, brain);
  Trace trace = trace_file.empty() ? Trace() : Trace(trace_file, {s.name, s.seed});
  bench.watch(trace);
  const RigRuns runs = run_rig(bench, s, rig_exercises);
  trace.close();
  if (!runs.failure.empty()) {
    std::fprintf(stderr, "rig: %s\n", runs.failure.c_str());
    return 1;
  }
  const std::string csv = rig_csv(runs, s, taken_at.empty() ? now_iso() : taken_at);
  if (out.empty()) {
    std::fputs(csv.c_str(), stdout);
    return 0;
  }
  write_file(out, csv);
  std::printf("SIMULATED rig: %zu readings of jack %.0f in %.0f s of virtual time, written to %s\n",
              runs.rows.size(), s.jack.serial, board.time_s(), out.c_str());
  return 0;
}

int list_faults() {
  for (const fault::Row& row : fault::table) {
    const std::string size = size_text(row, row.size);
    std::printf("%-22s %s%s%s\n%22s   unnoticed: %s\n", std::string(row.name).c_str(),
                std::string(row.what).c_str(), size.empty() ? "" : "; size ", size.c_str(), "",
                std::string(row.harm).c_str());
  }
  return 0;
}

int operate(const std::string& path, const std::vector<std::string>& lines) {
  int code = 0;
  for (const std::string& line : lines) {
    const std::string answer = ask(path, line);
    std::printf("%s\n", answer.c_str());
    code = answer.starts_with("failed") ? 1 : code;
  }
  return code;
}

}  // namespace

int run(int argc, char** argv) {
  CLI::App app{
      "The simulated jack of Strandproof. Plant values are assumed; nothing here says that anything is fit "
      "for use."};
  app.require_subcommand(1);

  Common common;
  std::string trace, out, taken_at;
  bool json = false, why_too = false;
  ServeOptions options;
  std::vector<std::string> lines;
  std::string operator_place = "/tmp/strandproof-jack.operator";

  CLI::App& pull_command = *app.add_subcommand("pull", "one pull in virtual time, with verdict and trace");
  common.add_to(pull_command);
  pull_command.add_option("--trace", trace,
                          "file of every tick: .csv, .vcd for a viewer of waveforms, or .mat");
  CLI::Option* as_json = pull_command.add_flag("--json", json, "the summary as JSON");
  pull_command
      .add_flag("--why", why_too, "what each row of the interlock table saw, and why it acted or not")
      ->excludes(as_json);

  CLI::App& rig_command = *app.add_subcommand("rig", "calibration runs of the jack on its rig, as CSV");
  common.add_to(rig_command);
  rig_command.add_option("-o,--out", out, "file to write; without it standard output");
  rig_command.add_option("--taken-at", taken_at, "time of the runs, ISO 8601 with offset; without it now")
      ->check([](const std::string& text) {
        int n = 0;
        std::tm t{};
        int hours = 0, minutes = 0;
        const int got = std::sscanf(text.c_str(), "%4d-%2d-%2dT%2d:%2d:%2d%3d:%2d%n", &t.tm_year, &t.tm_mon,
                                    &t.tm_mday, &t.tm_hour, &t.tm_min, &t.tm_sec, &hours, &minutes, &n);
        const bool good = got == 8 && text.size() == 25 && n == 25;
        return good ? std::string() : text + " is no time such as 2026-11-25T08:00:00+00:00";
      });

  rig_command.add_option("--trace", trace,
                         "file of every tick: .csv, .vcd or .mat; a .csv is what fit reads");

  FitChoice fitted;
  CLI::App& fit_command = *app.add_subcommand(
      "fit",
      "a jack's stiffness, air, friction, flow and delay from a bench trace, and how well they are known");
  fit_command.add_option("trace", fitted.trace, "CSV with a row a millisecond")->required();
  common.add_to(fit_command);
  fit_command.add_flag("--bed", fitted.bed, "the trace is of a pull on the bed; without it of the rig");
  fit_command.add_option("--seconds", fitted.seconds, "of the trace, at most")
      ->check(CLI::Range(2.0, 3600.0));
  fit_command.add_option("-o,--out", fitted.out, "jack file to write");
  fit_command.add_flag("--json", fitted.json, "as JSON");
  CLI::App& jack_command = *app.add_subcommand(
      "jack", "the scenario's jack as a jack file: each value marked measured or assumed");
  common.add_to(jack_command);

  CLI::App& serve_command = *app.add_subcommand("serve", "a simulated jack on a pseudo-terminal or TCP");
  common.add_to(serve_command);
  serve_command.add_option("--link", options.link, "symbolic link to the pseudo-terminal; \"\" for none");
  serve_command.add_option("--tcp", options.tcp_port, "port on 127.0.0.1");
  serve_command.add_option("--operator", options.operator_path, "local socket of the operator channel");
  serve_command.add_option("--flash", options.flash_file,
                           "file that keeps the jack's memory; without it forgotten");
  serve_command.add_option("--speed", options.speed, "virtual seconds a second")
      ->check(CLI::Range(0.01, 1000.0));
  serve_command.add_flag("--rig", options.rig,
                         "on the calibration rig, with a reference cell, not on the bed");
  serve_command
      .add_option("--cell", options.cell_link,
                  "at the rig: symbolic link to the cell's pseudo-terminal; \"\" for none")
      ->capture_default_str();
  serve_command.add_flag("--quiet", options.quiet, "no display on the terminal");

  CLI::App& operate_command = *app.add_subcommand("operate", "work the pendant of a served jack");
  operate_command.add_option("lines", lines, "commands, each in quotes, e.g. \"pull\" \"status\"")
      ->required();
  operate_command.add_option("--operator", operator_place, "local socket of the operator channel");

  CampaignChoice choice;
  CampaignRun campaign_run;
  ReplayChoice replayed;
  CLI::App& campaign_command =
      *app.add_subcommand("campaign", "many pulls that differ, with a report; interrupted, it goes on");
  add_choice(campaign_command, choice);
  add_run(campaign_command, campaign_run);
  campaign_command.add_option("--shard", campaign_run.shard, "a part, e.g. 2/4; join them with merge");

  CLI::App& merge_command =
      *app.add_subcommand("merge", "the shards of a campaign into one, with its report");
  add_choice(merge_command, choice);
  merge_command.add_option("folder", campaign_run.folder, "folder with all shards")->required();
  merge_command.add_flag("--json", campaign_run.json, "the report as JSON");

  const auto add_replay = [&](CLI::App& command) {
    add_choice(command, choice);
    command.add_option("pull", replayed.pull, "its number, from 0")->required();
    command.add_option("--drop", replayed.dropped,
                       "without this part, e.g. \"fault strand-break\" or valves.delay");
    command.add_option("--trace", replayed.trace,
                       "file of every tick: .csv, .vcd for a viewer of waveforms, or .mat");
    command.add_flag("--json", replayed.json, "as JSON");
  };
  CLI::App& replay_command = *app.add_subcommand("replay", "one pull of a campaign again");
  add_replay(replay_command);
  CLI::App& why_command = *app.add_subcommand(
      "why",
      "of one pull of a campaign: each interlock row's value, limit and margin, and why it acted or not");
  add_replay(why_command);

  CLI::App& shrink_command =
      *app.add_subcommand("shrink", "what of a pull of a campaign makes it end as it does");
  add_choice(shrink_command, choice);
  shrink_command.add_option("pull", replayed.pull, "its number, from 0")->required();

  CLI::App& keys_command = *app.add_subcommand("keys", "every key of a scenario with its units and default");
  CLI::App& faults_command = *app.add_subcommand("faults", "every fault by name");

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    const int code = app.exit(error);
    return code == 0 ? 0 : wrong_use;
  }
  if (pull_command.parsed()) {
    return pull(common, trace, json, why_too);
  }
  if (rig_command.parsed()) {
    return rig(common, out, taken_at, trace);
  }
  if (fit_command.parsed()) {
    return fit(common.scenario(), fitted);
  }
  if (jack_command.parsed()) {
    std::fputs(jack_text(common.scenario()).c_str(), stdout);
    return 0;
  }
  if (serve_command.parsed()) {
    return serve(common.scenario(), options);
  }
  if (operate_command.parsed()) {
    return operate(operator_place, lines);
  }
  if (campaign_command.parsed()) {
    return campaign(choice, campaign_run);
  }
  if (merge_command.parsed()) {
    return merge(choice, campaign_run.folder, campaign_run.json);
  }
  if (replay_command.parsed()) {
    return replay(choice, replayed);
  }
  if (why_command.parsed()) {
    return why(choice, replayed);
  }
  if (shrink_command.parsed()) {
    return shrink_pull(choice, replayed.pull);
  }
  if (keys_command.parsed()) {
    std::fputs(describe_keys().c_str(), stdout);
    return 0;
  }
  return faults_command.parsed() ? list_faults() : wrong_use;
}

}  // namespace strandproof::sim

int main(int argc, char** argv) {
  try {
    return strandproof::sim::run(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "strandproof-sim: %s\n", error.what());
    return 2;
  }
}
