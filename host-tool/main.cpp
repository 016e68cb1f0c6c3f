// `strandproof`: the command line. CLI11 is seen here and nowhere else; what each command does is in cli/.
#include <CLI/CLI.hpp>
#include <csignal>
#include <functional>
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
  cli::GaugeImport gauge_import;
  cli::GaugeLoad gauge_load;
  cli::GaugeShow gauge_show;
  cli::BedSend bed_send;
  cli::BedEnter bed_enter;
  cli::BedRecord bed_record;
  std::string host_name, capture;
  std::uint32_t bed = 1;
  bool curves = false;
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

template <class Options>
void add_csv(CLI::App& app, Options& o) {
  app.add_option("--separator", o.separator, "sign between the fields: ',' ';' or tab")
      ->capture_default_str();
  app.add_option("--decimal", o.decimal, "decimal sign: '.' or ','")->capture_default_str();
}

void add_declared(CLI::App& fit, cli::GaugeFit& o) {
  const auto declared = [&](const char* name, double& value, double largest, const char* what) {
    fit.add_option(name, value, what)->check(CLI::Range(0.0, largest))->capture_default_str();
  };
  fit.add_option(
      "--reference-ppm", o.reference_ppm,
      "expanded uncertainty (k = 2) of the reference cell; default: the file's cell_ppm, else 1000");
  declared("--resolution-n", o.resolution_n, 1e6, "smallest step of force that is shown, N");
  declared("--temperature-k", o.temperature_k, 100,
           "how far work may be from the temperature of the runs, +/- K");
  declared("--temperature-ppm-per-k", o.temperature_ppm_per_k, 1e5,
           "of the sensors, of the largest pressure");
  declared("--sensor-ppm", o.sensor_ppm, 1e5, "linearity and drift until due, +/- of the largest pressure");
  declared("--friction-scatter-percent", o.friction_scatter_percent, 100,
           "from pull to pull, +/- of the friction that the runs show");
  declared("--other-ppm", o.other_ppm, 1e5, "standard uncertainty of what else the runs do not show");
}

void add_gauge_fit(CLI::App& gauge, Program& p) {
  CLI::App* fit = command(gauge, "fit", "fit calibration runs and write a gauge table");
  cli::GaugeFit& o = p.gauge_fit;
  fit->add_option("RUNS", o.runs, "calibration runs, CSV")->required();
  fit->add_option("-o,--output", o.output, "gauge table to write, JSON");
  fit->add_option("--degree", o.degree, "1, 2 or 3; default: the lowest that lack of fit does not reject");
  fit->add_flag("--through-origin", o.through_origin, "no force at no pressure");
  fit->add_option("--points", o.points,
                  "points a column, 5 to 24; default: the fewest that keep a tenth of the uncertainty");
  fit->add_option("--valid-days", o.valid_days, "from the last reading to the due date")
      ->check(CLI::Range(1, 366))
      ->capture_default_str();
  fit->add_option("--class-wanted", o.class_wanted, "refuse a cell or a result worse than this class")
      ->check(CLI::Range(0.5, 3.0));
  fit->add_option("--class-limits", o.class_limits, "JSON file of the limits, checked by a person");
  fit->add_flag("--plain", o.plain, "RUNS is any data in two columns x,y: print the fit, degree 1 to 10");
  add_csv(*fit, o);
  add_declared(*fit, o);
  fit->callback([&p] { p.chosen = [&p] { return cli::gauge_fit(p.common, p.gauge_fit); }; });
}

void add_gauge_import(CLI::App& gauge, Program& p) {
  CLI::App* import = command(gauge, "import", "a table of an outside laboratory's pairs, marked as imported");
  cli::GaugeImport& o = p.gauge_import;
  import->add_option("PAIRS", o.pairs, "pairs of pressure and force, CSV")->required();
  import->add_option("-o,--output", o.output, "gauge table to write, JSON")->required();
  import->add_option("--issuer", o.issuer, "laboratory")->required();
  import->add_option("--certificate", o.certificate, "number of its certificate")->required();
  import->add_option("--uncertainty-ppm", o.uncertainty_ppm, "expanded (k = 2), of the reading")
      ->required()
      ->check(CLI::Range(1, 1'000'000));
  import->add_option("--class", o.stated_class, "as the issuer states it; default: not stated");
  import->add_option("--calibrated", o.calibrated, "time, 2026-05-04T09:30:00+02:00")->required();
  import->add_option("--due", o.due, "time")->required();
  import->add_option("--jack", o.jack, "serial")->required()->check(CLI::PositiveNumber);
  import->add_option("--sensor-a", o.sensor_a, "serial")->required()->check(CLI::PositiveNumber);
  import->add_option("--sensor-b", o.sensor_b, "serial")->required()->check(CLI::PositiveNumber);
  import->add_option("--origin", o.origin, "simulated, emulated or hardware")->required();
  add_csv(*import, o);
  import->callback([&p] { p.chosen = [&p] { return cli::gauge_import(p.common, p.gauge_import);
};
}  // namespace
);
}

void add_gauge_jack(CLI::App& gauge, Program& p) {
  CLI::App* load = command(gauge, "load", "sign a gauge table and load it into the jack");
  load->add_option("TABLE", p.gauge_load.table, "gauge table, JSON of `gauge fit`")->required();
  load->add_option("--revision", p.gauge_load.revision, "default: one more than the jack's");
  load->callback([&p] { p.chosen = [&p] { return cli::gauge_load(p.common, p.gauge_load); }; });
  CLI::App* show = command(gauge, "show", "the table that the jack works with");
  show->add_option("--file", p.gauge_show.file, "compare it with this table");
  show->callback([&p] { p.chosen = [&p] { return cli::gauge_show(p.common, p.gauge_show); }; });
}

void add_gauge(CLI::App& app, Program& p) {
  CLI::App* gauge = command(app, "gauge", "gauge tables: fit, load, show");
  gauge->require_subcommand(1);
  add_gauge_fit(*gauge, p);
  add_gauge_import(*gauge, p);
  add_gauge_jack(*gauge, p);
}

void add_jack(CLI::App& app, Program& p) {
  const auto plain = [&](const char* name, const char* what, Exit (*act)(const cli::Common&)) {
    command(app, name, what)->callback([&p, act] { p.chosen = [&p, act] { return act(p.common); }; });
  };
  plain("ports", "serial ports that could be a jack", cli::ports);
  plain("identify", "who is at the end of the line", cli::identify);
  plain("pair", "pair this host: asked here, confirmed at the pendant", cli::pair);
  plain("check-setup", "try keys, archive, clock, port and jack, and say what is wrong", cli::check_setup);
  CLI::App* key = command(app, "key", "this host's keys");
  key->require_subcommand(1);
  CLI::App* fresh = command(*key, "new", "make the keys, once");
  fresh->add_option("--name", p.host_name, "of this host, as the pendant shows it; default: the computer's");
  fresh->callback([&p] { p.chosen = [&p] { return cli::key_new(p.common, p.host_name); }; });
  CLI::App* clock = command(app, "clock", "the jack's clock");
  clock->require_subcommand(1);
  command(*clock, "set", "set it from this computer")->callback([&p] {
    p.chosen = [&p] { return cli::clock(p.common, true); };
  });
  command(*clock, "show", "show it")->callback([&p] {
    p.chosen = [&p] { return cli::clock(p.common, false); };
  });
}

void add_bed(CLI::App& app, Program& p) {
  CLI::App* bed = command(app, "bed", "a bed: send, progress, enter, record");
  bed->require_subcommand(1);
  CLI::App* send = command(*bed, "send", "work out a strand's pull and send it to the jack");
  send->add_option("PLAN", p.bed_send.plan, "plan of the bed, TOML")->required();
  send->add_option("--position", p.bed_send.position, "default: the first without a pull within limits");
  send->add_flag("--dry", p.bed_send.dry, "only show the numbers");
  send->callback([&p] { p.chosen = [&p] { return cli::bed_send(p.common, p.bed_send); }; });
  CLI::App* progress = command(*bed, "progress", "what is known of each position");
  progress->add_option("--bed", p.bed, "number of the bed")->capture_default_str();
  progress->callback([&p] { p.chosen = [&p] { return cli::bed_progress(p.common, p.bed); }; });
  CLI::App* enter = command(*bed, "enter", "enter into the jack's log what a person found at the bed");
  enter->add_option("--bed", p.bed_enter.bed, "number of the bed")->capture_default_str();
  enter->add_option("--replaced", p.bed_enter.replaced, "the strand of this position was replaced");
  enter->add_option("--inspected", p.bed_enter.inspected, "the neighbours of this position were inspected");
  enter->add_option("--by", p.bed_enter.by, "role of the person")->capture_default_str();
  enter->callback([&p] { p.chosen = [&p] { return cli::bed_enter(p.common, p.bed_enter); }; });
  CLI::App* record = command(*bed, "record", "write the stressing record, one HTML page");
  record->add_option("--bed", p.bed_record.bed, "number of the bed")->capture_default_str();
  record->add_option("-o,--output", p.bed_record.output, "HTML file to write")->required();
  record->callback([&p] { p.chosen = [&p] { return cli::bed_record(p.common, p.bed_record); }; });
}

void add_log(CLI::App& app, Program& p) {
  CLI::App* log = command(app, "log", "the jack's log: fetch, show");
  log->require_subcommand(1);
  command(*log, "fetch", "copy new records into the archive")->callback([&p] {
    p.chosen = [&p] { return cli::log_fetch(p.common); };
  });
  CLI::App* show = command(*log, "show", "the archive's records as lines");
  show->add_flag("--curves", p.curves, "with the points of each pull");
  show->callback([&p] { p.chosen = [&p] { return cli::log_show(p.common, p.curves); }; });
  CLI::App* decode = command(app, "decode", "frames of a capture as readable lines");
  decode->add_option("CAPTURE", p.capture, "bytes, or hexadecimal text; - is standard input")->required();
  decode->callback([&p] { p.chosen = [&p] { return cli::decode(p.common, p.capture); }; });
}

int run(int argc, char** argv) {
  Program p;
  CLI::App app{
      "Strandproof host tool: loads a stressing jack's gauge tables and instructions, reads its records.\n"
      "It moves nothing: oil is moved at the pendant only."};
  app.require_subcommand(1);
  add_common(app, p);
  add_jack(app, p);
  add_gauge(app, p);
  add_bed(app, p);
  add_log(app, p);
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
  std::signal(SIGXFSZ,
              SIG_IGN);  // a limit on files is then a failed write like a full disk, and gets its line
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
