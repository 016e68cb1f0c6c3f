// `strandproof`: the command line. CLI11 is seen here and in main_records.cpp; what each command does is in
// cli/.
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <csignal>
#include <cstdlib>
#include <functional>
#include <iostream>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/main_records.hpp"

namespace {

using strandproof::host::Exit;
using strandproof::host::Problem;
namespace cli = strandproof::host::cli;

// Holds what the parser writes into, and the command that was chosen.
struct Program {
  cli::Common common;
  cli::GaugeFit gauge_fit;
  cli::GaugeImport gauge_import;
  cli::GaugeCapture gauge_capture;
  cli::GaugeReport gauge_report;
  cli::GaugeLoad gauge_load;
  cli::GaugeAct gauge_undo;
  cli::GaugeShow gauge_show;
  cli::GaugeWatch gauge_watch;
  cli::GaugeWithdraw gauge_withdraw;
  cli::GaugeCheck gauge_check;
  cli::KeyFile key_file;
  cli::BedSend bed_send;
  cli::BedEnter bed_enter;
  cli::BedRecord bed_record;
  cli::BedSign bed_sign;
  cli::RecordOptions records;
  std::string host_name, capture;
  std::uint32_t bed = 1, jack = 0;
  std::function<Exit()> chosen;
};

using cli::command;

void add_common(CLI::App& app, Program& p) {
  const auto folder = strandproof::host::data_folder();
  p.common.archive = (folder / "archive.sqlite").string();
  p.common.keys = (folder / "keys").string();
  app.add_option("--port", p.common.port,
                 "serial device or tcp://127.0.0.1:PORT; default: the only one found");
  app.add_option("--archive", p.common.archive, "archive: a file, or postgresql://...")
      ->capture_default_str();
  app.add_option("--keys", p.common.keys, "folder of this host's keys")->capture_default_str();
  app.add_flag("--json", p.common.json, "print one JSON value for scripts");
}

// CLI::Range lets "nan" through.
CLI::Validator number_within(double low, double high) {
  const std::function<std::string(std::string&)> check = [low, high](std::string& text) {
    char* end = nullptr;
    const double value = std::strtod(text.c_str(), &end);
    const bool good = end != text.c_str() && *end == 0 && value >= low && value <= high;
    return good ? std::string{}
                : fmt::format("'{}' is not a number from {:g} to {:g}", strandproof::host::shown(text), low,
                              high);
  };
  return {check, fmt::format("{:g} to {:g}", low, high)};
}

template <class Options>
void add_csv(CLI::App& app, Options& o) {
  app.add_option("--separator", o.separator, "sign between the fields: ',' ';' or tab")
      ->capture_default_str();
  app.add_option("--decimal", o.decimal, "decimal sign: '.' or ','")->capture_default_str();
}

void add_declared(CLI::App& fit, cli::GaugeFit& o) {
  const auto declared = [&](const char* name, double& value, double largest, const char* what) {
    fit.add_option(name, value, what)->check(number_within(0.0, largest))->capture_default_str();
  };
  fit.add_option(
         "--reference-ppm", o.reference_ppm,
         "expanded uncertainty (k = 2) of the reference cell; default: the file's cell_ppm, else 1000")
      ->check(CLI::Range(1, 100'000));
  declared("--resolution-n", o.resolution_n, 1e6, "smallest step of force that is shown, N");
  declared("--temperature-k", o.temperature_k, 100,
           "how far work may be from the temperature of the runs, +/- K");
  declared("--temperature-ppm-per-k", o.temperature_ppm_per_k, 1e5,
           "zero of the sensors, of the largest pressure");
  declared("--temperature-gain-ppm-per-k", o.temperature_gain_ppm_per_k, 1e5,
           "gain of the sensors, of the reading");
  declared("--sensor-ppm", o.sensor_ppm, 1e5, "linearity and drift until due, +/- of the largest pressure");
  declared("--sensor-gain-ppm", o.sensor_gain_ppm, 1e5, "drift of the gain until due, +/- of the reading");
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
      ->check(number_within(0.5, 3.0));
  fit->add_option("--split-percent", o.split_percent,
                  "refuse branches further apart than this part of the reading and 2 kN")
      ->check(number_within(0.0, 100.0))
      ->capture_default_str();
  fit->add_option("--class-limits", o.class_limits, "JSON file of the limits, checked by a person");
  fit->add_flag("--plain", o.plain, "RUNS is any data in two columns x,y: print the fit, degree 1 to 10");
  add_csv(*fit, o);
  add_declared(*fit, o);
  fit->callback([&p] { p.chosen = [&p] { return cli::gauge_fit(p.common, p.gauge_fit); }; });
}

void add_gauge_import(CLI::App& gauge, Program& p) {
  CLI::App* pairs = command(gauge, "import", "a table of an outside laboratory's pairs, marked as imported");
  cli::GaugeImport& o = p.gauge_import;
  pairs->add_option("PAIRS", o.pairs, "pairs of pressure and force, CSV")->required();
  pairs->add_option("-o,--output", o.output, "gauge table to write, JSON")->required();
  pairs->add_option("--issuer", o.issuer, "laboratory")->required();
  pairs->add_option("--certificate", o.certificate, "number of its certificate")->required();
  pairs->add_option("--uncertainty-ppm", o.uncertainty_ppm, "expanded (k = 2), of the reading")
      ->required()
      ->check(CLI::Range(1, 100'000));
  pairs->add_option("--class", o.stated_class, "as the issuer states it; default: not stated");
  pairs->add_option("--calibrated", o.calibrated, "time, 2026-05-04T09:30:00+02:00")->required();
  pairs->add_option("--due", o.due, "time")->required();
  pairs->add_option("--jack", o.jack, "serial")->required()->check(CLI::PositiveNumber);
  pairs->add_option("--sensor-a", o.sensor_a, "serial")->required()->check(CLI::PositiveNumber);
  pairs->add_option("--sensor-b", o.sensor_b, "serial")->required()->check(CLI::PositiveNumber);
  pairs->add_option("--origin", o.origin, "simulated, emulated or hardware")->required();
  add_csv(*pairs, o);
  pairs->callback([&p] { p.chosen = [&p] { return cli::gauge_import(p.common, p.gauge_import); }; });
}

void add_gauge_report(CLI::App& gauge, Program& p) {
  CLI::App* report =
      command(gauge, "report", "refit the runs, prove the table, write the calibration report");
  cli::GaugeReport& o = p.gauge_report;
  report->add_option("RUNS", o.runs, "calibration runs that the table was made of, CSV")->required();
  report->add_option("TABLE", o.table, "gauge table, JSON of `gauge fit`")->required();
  report->add_option("-o,--output", o.output, "file to write, .pdf or .html")->required();
  report->add_option("--paper", o.paper, "a4 or letter")->capture_default_str();
  report->add_option("--issuer", o.issuer, "who issues it; default: a line to write on");
  report->add_option("--accredited", o.accreditation,
                     "the issuer's accreditation, in his words; default: none");
  report->callback([&p] { p.chosen = [&p] { return cli::gauge_report(p.common, p.gauge_report); }; });
}

void add_gauge_capture(CLI::App& gauge, Program& p) {
  CLI::App* capture = command(gauge, "capture", "guide a person through calibration runs at the rig");
  cli::GaugeCapture& o = p.gauge_capture;
  capture->add_option("-o,--output", o.output, "runs to write, CSV; one that was begun goes on")->required();
  capture->add_option("--set-points", o.set_points, "rising, e.g. \"30, 60, 90, 120, 150 kN\"")->required();
  capture->add_option("--series", o.series, "increasing runs")
      ->check(CLI::Range(1, 20))
      ->capture_default_str();
  capture->add_option("--down", o.down, "how many of the last series also go down")
      ->check(CLI::Range(0, 20))
      ->capture_default_str();
  capture->add_option("--exercises", o.exercises, "to the largest force, before the first reading")
      ->check(CLI::Range(1, 10))
      ->capture_default_str();
  capture->add_flag("--spot", o.spot,
                    "a spot run for `gauge check`: one series up, three set points or more");
  capture->add_option("--jack", o.jack, "serial on its plate")->required()->check(CLI::PositiveNumber);
  capture->add_option("--sensor-a", o.sensor_a, "serial on its plate")
      ->required()
      ->check(CLI::PositiveNumber);
  capture->add_option("--sensor-b", o.sensor_b, "serial on its plate")
      ->required()
      ->check(CLI::PositiveNumber);
  capture->add_option("--cell-port", o.cell_port,
                      "serial line of the reference cell; default: its value is typed");
  capture->add_option("--typed-unit", o.typed_unit, "of typed values: N kN lbf kip")->capture_default_str();
  capture->add_option("--cell-serial", o.cell_serial, "reference cell, of its certificate")->required();
  capture->add_option("--cell-class", o.cell_class, "ISO 376: 00 0.5 1 2")->required();
  capture->add_option("--cell-from", o.cell_from, "lowest verified force, e.g. \"5 kN\"")->required();
  capture->add_option("--cell-to", o.cell_to, "largest verified force")->required();
  capture->add_option("--cell-due", o.cell_due, "time, 2027-05-04T00:00:00+02:00")->required();
  capture->add_option("--cell-ppm", o.cell_ppm, "its expanded uncertainty (k = 2)")
      ->check(CLI::Range(1, 100'000));
  capture->add_option("--ambient-c", o.ambient_c, "temperature of the room, degC; default: the oil's")
      ->check(number_within(10.0, 35.0));  // what the fit takes
  capture->callback([&p] { p.chosen = [&p] { return cli::gauge_capture(p.common, p.gauge_capture); }; });
}

void add_act(CLI::App& app, cli::GaugeAct& act) {
  app.add_option("--by", act.by, "role of the person, no name")->capture_default_str();
  app.add_option("--why", act.why, "one line for the history");
}

void add_gauge_load(CLI::App& gauge, Program& p) {
  CLI::App* load = command(gauge, "load", "sign a gauge table, load it into the jack, compare every byte");
  cli::GaugeLoad& o = p.gauge_load;
  load->add_option("TABLE", o.table, "gauge table, JSON of `gauge fit`")->required();
  load->add_option("--runs", o.runs, "what the table was made of, to be kept; default: that file beside it");
  load->add_option("--revision", o.revision, "default: one above all that the jack ever worked with");
  load->add_option("--table-key", o.table_key, "file of the table key; default: table.key beside the keys");
  load->add_option("--passphrase-file", o.passphrase_file, "its first line (0600); default: asked for");
  add_act(*load, o);
  load->callback([&p] { p.chosen = [&p] { return cli::gauge_load(p.common, p.gauge_load); }; });
  CLI::App* undo =
      command(gauge, "undo", "back to the table before, as long as nothing was pulled on the new");
  add_act(*undo, p.gauge_undo);
  undo->callback([&p] { p.chosen = [&p] { return cli::gauge_undo(p.common, p.gauge_undo); }; });
}

void add_gauge_look(CLI::App& gauge, Program& p) {
  CLI::App* show = command(gauge, "show", "both slots of the jack, its table keys, and what is wrong");
  show->add_option("--file", p.gauge_show.file, "compare the active table with this one");
  show->add_flag("--points", p.gauge_show.points, "with the points of the active table");
  show->callback([&p] { p.chosen = [&p] { return cli::gauge_show(p.common, p.gauge_show); }; });
  CLI::App* watch = command(gauge, "watch", "force against slope over the last pulls, from the archive");
  watch->add_option("--jack", p.gauge_watch.jack, "serial; default: the only one in the archive");
  watch->add_option("--revision", p.gauge_watch.revision, "of the table; default: the active one");
  watch->add_option("--last", p.gauge_watch.window, "pulls of each mean")
      ->check(CLI::Range(2, 1000))
      ->capture_default_str();
  watch->callback([&p] { p.chosen = [&p] { return cli::gauge_watch(p.common, p.gauge_watch); }; });
  CLI::App* history = command(gauge, "history", "what was done to a jack's gauge tables: who, when, why");
  history->add_option("--jack", p.jack, "serial; default: the only one in the archive");
  history->callback([&p] { p.chosen = [&p] { return cli::gauge_history(p.common, p.jack); }; });
}

void add_gauge_check(CLI::App& gauge, Program& p) {
  CLI::App* check = command(gauge, "check", "a spot run against the active table: pass, drift or withdraw");
  check->add_option("SPOTS", p.gauge_check.spots, "readings at three set points or more, CSV")->required();
  check->add_flag("--offline", p.gauge_check.offline, "against what this archive loaded last");
  add_csv(*check, p.gauge_check);
  add_act(*check, p.gauge_check);
  check->callback([&p] { p.chosen = [&p] { return cli::gauge_check(p.common, p.gauge_check); }; });
  CLI::App* withdraw =
      command(gauge, "withdraw", "no pull any more on this table; lists the strands in doubt");
  cli::GaugeWithdraw& o = p.gauge_withdraw;
  withdraw->add_option("--reason", o.reason, "failed-check, repair, seal, dropped or reference-cell")
      ->required();
  withdraw->add_flag("--offline", o.offline, "in this archive only, where the jack is not at hand");
  withdraw->add_option("--jack", o.jack, "serial, offline; default: the only one in the archive");
  withdraw->add_option("--revision", o.revision, "default: the active one");
  add_act(*withdraw, o);
  withdraw->callback([&p] { p.chosen = [&p] { return cli::gauge_withdraw(p.common, p.gauge_withdraw); }; });
}

void add_gauge(CLI::App& app, Program& p) {
  CLI::App* gauge = command(app, "gauge", "gauge tables: fit, report, load, show, check, withdraw");
  gauge->require_subcommand(1);
  add_gauge_fit(*gauge, p);
  add_gauge_capture(*gauge, p);
  add_gauge_import(*gauge, p);
  add_gauge_report(*gauge, p);
  add_gauge_load(*gauge, p);
  add_gauge_look(*gauge, p);
  add_gauge_check(*gauge, p);
}

void add_key(CLI::App& app, Program& p) {
  CLI::App* key = command(app, "key", "keys: of this computer, and those that sign gauge tables");
  key->require_subcommand(1);
  CLI::App* fresh = command(*key, "new", "make this computer's key, once");
  fresh->add_option("--name", p.host_name, "of this host, as the pendant shows it; default: the computer's");
  fresh->callback([&p] { p.chosen = [&p] { return cli::key_new(p.common, p.host_name); }; });
  cli::KeyFile& o = p.key_file;
  const auto table_key = [&](const char* name, const char* what, const char* file,
                             Exit (*act)(const cli::Common&, const cli::KeyFile&)) {
    CLI::App* made = command(*key, name, what);
    made->add_option(file, o.file, "file of the table key; default: table.key beside the keys");
    made->callback([&p, act] { p.chosen = [&p, act] { return act(p.common, p.key_file); }; });
    return made;
  };
  CLI::App* made =
      table_key("table-new", "make a key that signs gauge tables", "-o,--output", cli::key_table_new);
  made->add_option("--name", o.name, "1 to 15 ASCII characters, as the pendant shows it")->required();
  made->add_option("--passphrase-file", o.passphrase_file, "its first line (0600); default: asked for");
  CLI::App* change = table_key("change-passphrase", "of a table key", "FILE", cli::key_change_passphrase);
  change->add_option("--passphrase-file", o.passphrase_file, "of the old one; default: asked for");
  change->add_option("--new-passphrase-file", o.new_passphrase_file, "of the new one; default: asked for");
  table_key("show", "names and fingerprints", "FILE", cli::key_show);
  table_key("enrol", "ask the jack to enrol a table key; confirmed at the pendant", "FILE", cli::key_enrol);
}

void add_jack(CLI::App& app, Program& p) {
  const auto plain = [&](const char* name, const char* what, Exit (*act)(const cli::Common&)) {
    command(app, name, what)->callback([&p, act] { p.chosen = [&p, act] { return act(p.common); }; });
  };
  plain("ports", "serial ports that could be a jack", cli::ports);
  plain("identify", "who is at the end of the line", cli::identify);
  plain("pair", "pair this host: asked here, confirmed at the pendant", cli::pair);
  plain("check-setup", "try keys, archive, clock, port and jack, and say what is wrong", cli::check_setup);
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
  CLI::App* bed = command(app, "bed", "a bed: send, progress, enter, record, sign");
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
  CLI::App* sign = command(*bed, "sign", "sign the bed off in the archive");
  sign->add_option("BED", p.bed_sign.bed, "number of the bed")->required();
  sign->add_option("--by", p.bed_sign.by, "role of the person, no name")->required();
  sign->callback([&p] { p.chosen = [&p] { return cli::bed_sign(p.common, p.bed_sign); }; });
}

void add_decode(CLI::App& app, Program& p) {
  CLI::App* decode = command(app, "decode", "frames of a capture as readable lines");
  decode->add_option("CAPTURE", p.capture, "bytes, or hexadecimal text; - is standard input")->required();
  decode->callback([&p] { p.chosen = [&p] { return cli::decode(p.common, p.capture); }; });
}

// The command-line library breaks some of its messages.
std::string one_line(std::string text) {
  while (!text.empty() && text.back() == '\n') text.pop_back();
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

int run(int argc, char** argv) {
  Program p;
  CLI::App app{
      "Strandproof host tool: loads a stressing jack's gauge tables and instructions, reads its records.\n"
      "It moves nothing: oil is moved at the pendant only."};
  app.require_subcommand(1);
  add_common(app, p);
  add_key(app, p);
  add_jack(app, p);
  add_gauge(app, p);
  add_bed(app, p);
  cli::add_records(app, p.common, p.records, p.chosen);
  add_decode(app, p);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    if (e.get_exit_code() == 0) return app.exit(e);  // help
    throw strandproof::host::bad_input(
        one_line(e.what()) + "; strandproof --help, or --help after a command, lists what it takes");
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
