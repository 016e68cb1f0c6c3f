// Pairs of pressure and force that an outside laboratory measured: they become a table as they stand, marked
// as imported. No statistics are made up for them: class and uncertainty are what the issuer states.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "host-tool/gauge/table.hpp"

namespace strandproof::host::gauge {

// What the certificate says and the file of pairs does not.
struct Certificate {
  std::string issuer;
  std::string number;
  std::uint32_t jack_serial;
  std::array<std::uint32_t, 2> sensor_serial;
  Origin origin;
  std::int64_t calibrated_s;
  std::int64_t due_s;
  std::uint32_t expanded_ppm;       // k = 2, of the reading, largest over the range
  std::optional<int> class_tenths;  // as stated by the issuer; nothing: not stated
};

// Columns: channel (A or B), direction (up or down), pressure with its unit, force with its unit. Each column
// of the table takes 5 to 24 pairs, rounded to whole mbar and N. Throws Problem (fault) with file:line:column
// for a file that can not be read or whose pairs do not rise within channel and direction, and (refused) for
// a channel with too few or too many pairs, pairs of no jack (no_jack), one more than 5 % and 1 % of the
// largest force off the line between its neighbours, channels more than 2 % and 1 % apart, a decreasing
// column that is not above the increasing one by 12 % and 2 kN at most, or a certificate without issuer,
// number, uncertainty or a due date after the calibration.
Table read_pairs(std::string_view text, const std::string& name, const CsvOptions& options,
                 const Certificate& certificate);

}  // namespace strandproof::host::gauge
