// A gauge table in the terminal, for the technician who made it.
#pragma once

#include <string>

#include "host-tool/cli/commands.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::cli {

void print_lack_of_fit(const gauge::LackOfFit& l, const char* indent);
void print_table(const gauge::Table& table);

// Writes the table's file and prints what was made. source: the CSV it comes of. Throws Problem (fault).
void write_table(const Common& common, const gauge::Table& table, const gauge::Source& source,
                 const std::string& output);

}  // namespace strandproof::host::cli
