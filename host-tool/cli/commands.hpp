// The commands of `strandproof`: their options as plain values, and one function each. Each prints its own
// result and throws Problem for everything else. main.cpp is the only file that sees the command-line
// library.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::cli {

struct Common {
  std::string archive;  // file
  std::string keys;     // folder
  std::string port;     // serial device, or tcp://127.0.0.1:PORT; empty: the only jack that is found
  bool json = false;
};

struct GaugeFit {
  std::string runs;
  std::string output;  // may be empty for a plain fit
  bool plain = false;  // two columns x,y: any data, degree 1 to 10
  std::optional<int> degree;
  bool through_origin = false;
  std::optional<int> points;
  int valid_days = 182;
  std::optional<double> class_wanted;
  double split_percent = 12.0;
  std::string class_limits;  // file; empty: the one that was built in
  std::string separator = ",", decimal = ".";
  std::optional<std::uint32_t> reference_ppm;
  double resolution_n = 100.0, temperature_k = 0.0, temperature_ppm_per_k = 0.0,
         temperature_gain_ppm_per_k = 0.0;
  double sensor_ppm = 0.0, sensor_gain_ppm = 0.0;
  double friction_scatter_percent = 0.0, other_ppm = 0.0;
};
Exit gauge_fit(const Common& common, const GaugeFit& options);

struct GaugeImport {
  std::string pairs, output;
  std::string issuer, certificate, calibrated, due, origin;
  std::uint32_t jack = 0, sensor_a = 0, sensor_b = 0, uncertainty_ppm = 0;
  std::optional<double> stated_class;
  std::string separator = ",", decimal = ".";
};
// An outside laboratory's pairs as a table, marked as imported.
Exit gauge_import(const Common& common, const GaugeImport& options);

struct GaugeCapture {
  std::string output, set_points;
  int series = 3, down = 1, exercises = 3;
  bool spot = false;
  std::uint32_t jack = 0, sensor_a = 0, sensor_b = 0;
  std::string cell_port;  // empty: the cell's value is typed
  std::string typed_unit = "kN";
  std::string cell_serial, cell_class, cell_from, cell_to, cell_due;
  std::optional<std::uint32_t> cell_ppm;
  std::optional<double> ambient_c;
};
// Guides a person through calibration runs at the rig and writes them reading by reading; moves nothing.
Exit gauge_capture(const Common& common, const GaugeCapture& options);

struct GaugeReport {
  std::string runs, table;
  std::string output;        // .pdf or .html decides what is written
  std::string paper = "a4";  // or letter
  std::string issuer, accreditation;
};
// Refits the runs, proves that they give the table, and writes the calibration report.
Exit gauge_report(const Common& common, const GaugeReport& options);

// Who did it, and why: roles, no persons' names.
struct GaugeAct {
  std::string by = "calibration technician";
  std::string why;
};

struct GaugeLoad : GaugeAct {
  std::string table;
  std::string runs;                       // what it was made of; empty: the file of that name beside it
  std::string table_key;                  // file; empty: table.key of this host's folder
  std::string passphrase_file;            // empty: see keys/passphrase.hpp
  std::optional<std::uint32_t> revision;  // nothing: one above all that the jack ever worked with
};
// Signs the table, loads it in chunks that resume, and compares what the jack then holds byte for byte.
Exit gauge_load(const Common& common, const GaugeLoad& options);
// Back to the table in the other slot, before the first pull on the new one.
Exit gauge_undo(const Common& common, const GaugeAct& options);

struct GaugeShow {
  std::string file;     // compare the active table with this file
  bool points = false;  // with the points of the active table
};
// Both slots, keys, what bars arming, and warnings. Refused if the jack arms on no table.
Exit gauge_show(const Common& common, const GaugeShow& options);

struct GaugeWatch {
  std::uint32_t jack = 0;      // 0: the only one in the archive
  std::uint32_t revision = 0;  // 0: the active one
  std::size_t window = 10;     // pulls of each mean
};
// Force against slope over the last pulls, from the archive. Refused if it warns.
Exit gauge_watch(const Common& common, const GaugeWatch& options);
// jack 0: the only one in the archive.
Exit gauge_history(const Common& common, std::uint32_t jack);

struct GaugeWithdraw : GaugeAct {
  std::string reason;
  bool offline = false;        // in the archive only, where the jack is not at hand
  std::uint32_t jack = 0;      // offline: 0: the only one in the archive
  std::uint32_t revision = 0;  // 0: the active one
};
Exit gauge_withdraw(const Common& common, const GaugeWithdraw& options);

struct GaugeCheck : GaugeAct {
  std::string spots;  // CSV as of a calibration
  std::string separator = ",", decimal = ".";
  bool offline = false;  // against what this archive loaded last
};
// Good: pass. Refused: drift or withdraw.
Exit gauge_check(const Common& common, const GaugeCheck& options);

struct KeyFile {
  std::string file;  // empty: table.key of this host's folder
  std::string name;  // of a new key
  std::string passphrase_file, new_passphrase_file;
};
Exit key_table_new(const Common& common, const KeyFile& options);
Exit key_show(const Common& common, const KeyFile& options);
Exit key_change_passphrase(const Common& common, const KeyFile& options);
// Asked here, confirmed at the pendant.
Exit key_enrol(const Common& common, const KeyFile& options);
Exit key_new(const Common& common, const std::string& name);
Exit ports(const Common& common);
Exit identify(const Common& common);
Exit pair(const Common& common);
Exit clock(const Common& common, bool set);
Exit check_setup(const Common& common);

struct BedSend {
  std::string plan;
  std::optional<std::uint32_t> position;  // nothing: the first that has no good pull yet
  bool dry = false;                       // only show the numbers
};
Exit bed_send(const Common& common, const BedSend& options);
Exit bed_progress(const Common& common, std::uint32_t bed);
struct BedEnter {
  std::uint32_t bed = 1;
  std::optional<std::uint32_t> replaced, inspected;  // position
  std::string by = "crew lead";                      // role
};
Exit bed_enter(const Common& common, const BedEnter& options);
struct BedRecord {
  std::uint32_t bed = 1;
  std::string output;
};
Exit bed_record(const Common& common, const BedRecord& options);
struct BedSign {
  std::uint32_t bed = 1;
  std::string by;  // role
};
// Signs the bed off in the archive. Refused: simulated or emulated pulls, positions not within limits, a
// calibration in doubt.
Exit bed_sign(const Common& common, const BedSign& options);

Exit log_fetch(const Common& common);
// Follows the log into the archive, a line each, until Ctrl-C.
Exit log_tail(const Common& common);
// The copies of its log that the jack knows, and what each holds.
Exit log_copies(const Common& common);
// How the archive is called among them; empty: only shows it.
Exit archive_name(const Common& common, const std::string& name);

struct TimeSpan {
  std::string from, until;  // 2026-05-04, or a moment; until is not included
};
// 0 and "": any.
struct LogFind {
  std::uint32_t jack = 0, bed = 0, position = 0, reel = 0, table = 0;
  std::string strand, verdict, event, cause;
  TimeSpan span;
  std::uint64_t first = 0, last = 0;
  std::size_t limit = 0;
  bool curves = false;
  std::uint64_t snapshot = 0;  // number of the record of a trip
  std::string output;          // of a CSV or a bundle
};
Exit log_show(const Common& common, bool curves);
Exit log_find(const Common& common, const LogFind& options);
Exit log_csv(const Common& common, const LogFind& options);

// The engine's check, each record's columns, the chain of entries. Refused if it finds a fault.
Exit archive_check(const Common& common);
Exit archive_back_up(const Common& common, const std::string& file);
Exit archive_restore(const Common& common, const std::string& file);
// jack 0: the only one in the archive.
Exit archive_statistics(const Common& common, std::uint32_t jack, const TimeSpan& span);

struct ArchiveEntry {
  std::uint32_t jack = 0, bed = 0;
  std::uint64_t record = 0;
  std::string by;  // role
  std::string words, decision;
};
Exit archive_remark(const Common& common, const ArchiveEntry& options);
// What the responsible engineer decided on a strand.
Exit archive_decide(const Common& common, const ArchiveEntry& options);
// bed 0: all.
Exit archive_entries(const Common& common, std::uint32_t bed);
// A file that a table or a plan was made of, so that a bundle can hold it.
Exit archive_keep(const Common& common, const std::string& file);
// days 0: show it; else raise it.
Exit archive_minimum_age(const Common& common, std::uint64_t days, const std::string& by);
// Deletes a signed bed's records after the minimum age.
Exit archive_remove(const Common& common, const ArchiveEntry& options);
// Follows the chain of every jack's log in the archive, against the held heads. refused if anything was
// found.
Exit log_verify(const Common& common);
struct LogBundle {
  std::optional<std::uint32_t> bed;   // nothing, and no jack: bed 1
  std::uint32_t jack = 0;             // 0: by bed
  std::uint64_t first = 0, last = 0;  // of the jack's records; 0: all
  bool tag_keys = false;              // with m[e] of closed epochs
  std::string output;
};
// One file that holds it all and proves itself.
Exit log_bundle(const Common& common, const LogBundle& options);
struct LogVerify {
  std::string file;  // a bundle; empty: the archive
  std::string key;   // fingerprint that the jack's key must have, as a paper says
};
// Needs the file alone.
Exit log_verify_bundle(const Common& common, const LogVerify& options);
struct LogAccept {
  std::string fingerprint, by, why;
};
// A controller was replaced: holds the log of the new one, if a person gives its key's fingerprint.
Exit log_accept(const Common& common, const LogAccept& o);

// Frames of a capture (binary, or hexadecimal text) as readable lines; "-" is standard input.
Exit decode(const Common& common, const std::string& capture);

}  // namespace strandproof::host::cli
