// Whether a gauge table's file is what its runs give: the table is made again and every field compared.
#pragma once

#include <string>

#include "host-tool/gauge/table.hpp"

namespace strandproof::host::report {

struct Named {
  const std::string& text;
  const std::string& name;  // of the file, for messages
};

struct Proved {
  gauge::Runs runs;
  gauge::Table table;  // made of the runs just now
};

// Fits again with the options that the table keeps. Texts and whole numbers (points, serials, dates, class,
// uncertainty) must be the same, figures within 1e-9 relative or 1e-9 (another machine rounds its last bits
// elsewhere); only the name of the runs' file may differ. Throws Problem (refused) if the table was made of
// other runs or holds a field that they do not give, and Problem as read_runs, options_from_json and
// make_table do.
Proved prove_table(const Named& runs, const Named& table);

}  // namespace strandproof::host::report
