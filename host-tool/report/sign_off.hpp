// What a sign-off of a bed holds, and what stands against one.
#pragma once

#include <cstdint>
#include <string>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::report {

// The sign-off of every pull of the bed that the archive holds; not entered yet. Throws Problem (refused): no
// pull, a simulated or emulated one, a position whose last pull is not within limits, a pull with its
// calibration in doubt; (fault) without a role.
archive::SignOff sign_off_of(const archive::Archive& kept, std::uint32_t bed, const std::string& by,
                             std::int64_t at_s);

}  // namespace strandproof::host::report
