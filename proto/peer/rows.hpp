// Rows of numbers as records hold them (SPEC.md, section 12), and the curve of a pull out of its parts.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "strandproof/wire.pb.h"

namespace strandproof::proto {

using Row = std::vector<std::int32_t>;

// Nothing if the bytes are not rows of so many columns: cut, longer than needed, or beyond 32 bits.
std::optional<std::vector<Row>> rows_of(const std::string& bytes, std::size_t columns);

struct CurvePoint {
  std::optional<std::uint32_t> at_ms;  // since the pull was armed; older records do not say it
  std::int64_t elongation_um = 0, force_n = 0;
};
struct PullCurve {
  std::vector<CurvePoint> points;
  std::uint32_t missing = 0;  // points that the record names and no part brought
};

// parts: those of this pull, in any order; one that can not be read counts as missing. An older record holds
// its points itself.
PullCurve curve_of(const wire::PullRecord& pull, std::vector<wire::CurvePart> parts);

}  // namespace strandproof::proto
