// Any two columns x,y, so that the fit can be tried on data whose answer is known.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "host-tool/gauge/csv.hpp"
#include "host-tool/gauge/fit.hpp"

namespace strandproof::host::gauge {

struct PlainData {
  std::vector<Observation> readings;  // equal x are one group
  std::vector<int> lines;             // of the file
};

// Header "x,y". Throws Problem (fault) with file:line:column.
PlainData read_plain(std::string_view text, const std::string& name, const CsvOptions& options);

// The fit as one JSON value, numbers to the last digit.
std::string plain_json(const PlainData& data, const Fit& fit);

}  // namespace strandproof::host::gauge
