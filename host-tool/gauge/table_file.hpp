// A gauge table as a JSON file: what the controller will hold, the figures that it came from, and the options
// to make it again. The format is in host-tool/README.md.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "host-tool/gauge/table.hpp"

namespace strandproof::host::gauge {

// The part that goes to the controller; its revision is given when it is loaded.
struct HeldTable {
  std::uint32_t jack_serial;
  std::array<std::uint32_t, 2> sensor_serial;
  Origin origin;
  std::int64_t calibrated_s;
  std::int64_t due_s;
  std::uint32_t class_tenths;
  std::uint32_t uncertainty_ppm;
  std::array<std::vector<Point>, 2> increasing;
  std::array<std::vector<Point>, 2> decreasing;
  double lowest_initial_n;  // not held by the jack: of the file; of a jack's bytes, the higher first point
};

struct Source {
  std::string file;
  std::string sha256_hex;
};

std::string origin_text(Origin origin);

HeldTable held(const Table& table);

// The same table and source give the same bytes: a table is proved by making it again and comparing.
std::string to_json(const Table& table, const Source& source);

// Reads what to_json wrote. Throws Problem (fault) naming the file, the field and the remedy: not JSON,
// another format or version, a field missing or of the wrong kind, points that do not rise or are fewer than
// 5 or more than 24, serials of zero. A column may be empty only on the decreasing branch.
HeldTable from_json(std::string_view text, const std::string& name);

// The file that the table was made of: its runs, or an outside laboratory's pairs. Throws Problem (fault) as
// from_json does.
Source source_of(std::string_view text, const std::string& name);

// Made by `gauge import`: there are no runs to make it again from. Throws as source_of does.
bool is_imported(std::string_view text, const std::string& name);

// The options that the table was made with, class limits included. Throws Problem (fault) as from_json does,
// and for an imported table, which was not made of runs.
TableOptions options_from_json(std::string_view text, const std::string& name);

}  // namespace strandproof::host::gauge
