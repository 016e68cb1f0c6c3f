// What the commands about the archive take and print as words.
#pragma once

#include <cstdint>
#include <string>

#include "host-tool/archive/archive.hpp"
#include "host-tool/cli/commands.hpp"

namespace strandproof::host::cli {

// "2026-05-04" (its begin, UTC) or a moment of ISO 8601 with offset. Throws Problem (fault) naming the
// option.
std::int64_t moment(const std::string& text, const char* option);

// Of the words accepted, replaced, rejected. Throws Problem (fault).
archive::Decision decision_number(const std::string& word);

// As the options say; verdict, event and cause by number or by the catalogue's word ("strand-break").
// Throws Problem (fault) naming the option.
archive::Filter filter_of(const LogFind& options);

}  // namespace strandproof::host::cli
