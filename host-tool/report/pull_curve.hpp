// The curve of a pull out of the archive: its parts are the records right before the pull's.
#pragma once

#include <vector>

#include "host-tool/archive/archive.hpp"
#include "proto/peer/rows.hpp"

namespace strandproof::host::report {

// Walks through a jack's records in their order and gives each pull the parts right before it.
class CurveParts {
 public:
  void take(const archive::StoredRecord& stored, const wire::Record& record);
  [[nodiscard]] proto::PullCurve curve_of(const archive::StoredRecord& stored,
                                          const wire::PullRecord& pull) const;

 private:
  std::uint32_t boot_ = 0;
  std::vector<wire::CurvePart> parts_;  // of one instruction
};

// Of one pull by itself.
proto::PullCurve curve_of(const archive::Archive& kept, const archive::StoredRecord& stored,
                          const wire::PullRecord& pull);

// "3 points of 97 are missing: ..."; "" if none is.
std::string missing_points(const proto::PullCurve& curve);

}  // namespace strandproof::host::report
