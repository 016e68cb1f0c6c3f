// Where an archive is, as it was named with --archive, and as a person may see it.
#pragma once

#include <string>

namespace strandproof::host::archive {

// The place without user, password and options. Of an address that can be read in two ways nothing is shown.
std::string shown_place(const std::string& place);

// Throws Problem (fault) for an address that libpq would read otherwise than it was meant: it would look for
// a part of the password as a host, and say so.
void demand_clear_address(const std::string& place);

}  // namespace strandproof::host::archive
