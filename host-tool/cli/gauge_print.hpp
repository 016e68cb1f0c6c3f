// A gauge table in the terminal, for the technician who made it.
#pragma once

#include "host-tool/gauge/table.hpp"

namespace strandproof::host::cli {

void print_lack_of_fit(const gauge::LackOfFit& l, const char* indent);
void print_table(const gauge::Table& table);

}  // namespace strandproof::host::cli
