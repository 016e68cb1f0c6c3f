// A record on the terminal.
#pragma once

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::cli {

// One line.
void print_record(const archive::StoredRecord& record);
// One JSON object a line, fields as wire.proto names them; 64-bit numbers are texts there.
void print_record_json(const archive::StoredRecord& record);

}  // namespace strandproof::host::cli
