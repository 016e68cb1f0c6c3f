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
  std::string class_limits;  // file; empty: the one that was built in
  std::string separator = ",", decimal = ".";
  std::optional<std::uint32_t> reference_ppm;
  double resolution_n = 100.0, temperature_k = 0.0, temperature_ppm_per_k = 0.0, sensor_ppm = 0.0;
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

struct GaugeLoad {
  std::string table;
  std::optional<std::uint32_t> revision;  // nothing: one more than the jack's
};
// Signs with this host's table key, loads in chunks, and reads back what the jack then holds.
Exit gauge_load(const Common& common, const GaugeLoad& options);
struct GaugeShow {
  std::string file;  // compare with this file; empty: with the archive
};
Exit gauge_show(const Common& common, const GaugeShow& options);

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

Exit log_fetch(const Common& common);
Exit log_show(const Common& common, bool curves);

// Frames of a capture (binary, or hexadecimal text) as readable lines; "-" is standard input.
Exit decode(const Common& common, const std::string& capture);

}  // namespace strandproof::host::cli
