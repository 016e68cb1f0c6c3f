// `strandproof`: the command line. CLI11 is seen here and nowhere else; what each command does is in cli/.
#include <CLI/CLI.hpp>
#include <iostream>

#include "host-tool/base/files.hpp"
#include "host-tool/cli/commands.hpp"

namespace {

using strandproof::host::Exit;
using strandproof::host::Problem;
namespace cli = strandproof::host::cli;

// Holds what the parser writes into, and the command that was chosen.
struct Program {
  cli::Common common;
  cli::GaugeFit gauge_fit;
  std::function<Exit()> chosen;
};

CLI::App* command(CLI::App& parent, const char* name, const char* what) {
  CLI::App* app = parent.add_subcommand(name, what);
  app->fallthrough();  // the common options may stand before and after the command
  return app;
}

void add_common(CLI::App& app, Program& p) {
  const auto folder = strandproof::host::data_folder();
  p.common.archive = (folder / "archive.sqlite").string();
  p.common.keys = (folder / "keys").string();
  app.add_option("--port", p.common.port,
                 "serial device or tcp://127.0.0.1:PORT; default: the only one found");
  app.add_option("--archive", p.common.archive, "archive file")->capture_default_str();
  app.add_option("--keys", p.common.keys, "folder of this host's keys")->capture_default_str();
  app.add_flag("--json", p.common.json, "print one JSON value for scripts");
}

void add_gauge(CLI::App& app, Program& p) {
  CLI::App* gauge = command(app, "gauge", "gauge tables: fit, load, show");
  gauge->require_subcommand(1);
  CLI::App* fit = command(*gauge, "fit", "fit calibration runs and write a gauge table");
  fit->add_option("RUNS", p.gauge_fit.runs, "calibration runs, CSV")->required();
  fit->add_option("-o,--output", p.gauge_fit.output, "gauge table to write, JSON")->required();
  fit->add_option("--degree", p.gauge_fit.degree, "1 or 2; default: by lack of fit");
  fit->add_option("--points", p.gauge_fit.points, "points a column, 5 to 24")->capture_default_str();
  fit->add_option("--valid-days", p.gauge_fit.valid_days, "from the last reading to the due date")
      ->check(CLI::Range(1, 366))
      ->capture_default_str();
  fit->add_option("--reference-ppm", p.gauge_fit.reference_ppm,
                  "expanded uncertainty (k = 2) of the reference cell")
      ->capture_default_str();
  fit->add_option("--other-ppm", p.gauge_fit.other_ppm, "standard uncertainty of what the runs do not show")
      ->capture_default_str();
  fit->callback([&p] { p.chosen = [&p] { return cli::gauge_fit(p.common, p.gauge_fit); }; });
}

int run(int argc, char** argv) {
  Program p;
  CLI::App app{
      "Strandproof host tool: loads a stressing jack's gauge tables and instructions, reads its records.\n"
      "It moves nothing: oil is moved at the pendant only."};
  app.require_subcommand(1);
  add_common(app, p);
  add_gauge(app, p);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? 0 : static_cast<int>(Exit::fault);
  }
  return static_cast<int>(p.chosen());
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const Problem& p) {
    std::cerr << "strandproof: " << p.what() << '\n';
    return static_cast<int>(p.exit());
  } catch (const std::exception& e) {
    std::cerr << "strandproof: unexpected: " << e.what() << '\n';
    return static_cast<int>(Exit::fault);
  }
}
