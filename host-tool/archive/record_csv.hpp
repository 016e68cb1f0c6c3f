// Records as CSV (RFC 4180), one line a record, for a spreadsheet or another program.
#pragma once

#include <string>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::archive {

// Names of the columns with their units; a column that does not apply to a record is empty.
std::string csv_header();

// origin: of the jack as the archive knows it, for events, which do not say it themselves; 0: not known.
std::string csv_line(const StoredRecord& record, std::uint32_t origin);

// Header and a line for each record that the filter finds.
std::string csv_of(const Archive& archive, const Filter& filter);

}  // namespace strandproof::host::archive
