// The curve of a pull out of the archive: its parts are the records right before the pull's.
#pragma once

#include "host-tool/archive/archive.hpp"
#include "proto/peer/rows.hpp"

namespace strandproof::host::report {

proto::PullCurve curve_of(const archive::Archive& kept, const archive::StoredRecord& stored,
                          const wire::PullRecord& pull);

// "3 points of 97 are missing: ..."; "" if none is.
std::string missing_points(const proto::PullCurve& curve);

}  // namespace strandproof::host::report
