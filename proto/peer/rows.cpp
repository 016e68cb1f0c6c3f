#include "proto/peer/rows.hpp"

#include <algorithm>

namespace strandproof::proto {
namespace {

// One varint of at most 32 bits in its shortest form; `at` moves behind it.
std::optional<std::uint32_t> number(const std::string& bytes, std::size_t& at) {
  std::uint64_t value = 0;
  for (unsigned shift = 0; at < bytes.size() && shift < 35; shift += 7) {
    const auto byte = static_cast<std::uint8_t>(bytes[at++]);
    value |= std::uint64_t{byte & 0x7FU} << shift;
    if ((byte & 0x80U) != 0) continue;
    const bool shortest = byte != 0 || shift == 0;
    return shortest && value <= UINT32_MAX ? std::optional{static_cast<std::uint32_t>(value)} : std::nullopt;
  }
  return std::nullopt;
}

PullCurve of_older_record(const wire::PullRecord& p) {
  PullCurve curve;
  CurvePoint at;
  for (int i = 0; i < p.curve_um_size() && i < p.curve_n_size(); ++i) {
    at.elongation_um += p.curve_um(i);
    at.force_n += p.curve_n(i);
    curve.points.push_back(at);
  }
  return curve;
}

}  // namespace

std::optional<std::vector<Row>> rows_of(const std::string& bytes, std::size_t columns) {
  std::vector<Row> rows;
  Row row(columns, 0);
  for (std::size_t at = 0; at < bytes.size();) {
    for (std::int32_t& value : row) {
      const auto zigzag = number(bytes, at);
      if (!zigzag) return std::nullopt;
      const std::uint32_t difference = *zigzag >> 1U ^ (0U - (*zigzag & 1U));
      value = static_cast<std::int32_t>(static_cast<std::uint32_t>(value) + difference);
    }
    rows.push_back(row);
  }
  return rows;
}

PullCurve curve_of(const wire::PullRecord& pull, std::vector<wire::CurvePart> parts) {
  if (pull.curve_points() == 0) return of_older_record(pull);
  std::sort(parts.begin(), parts.end(), [](const auto& a, const auto& b) { return a.first() < b.first(); });
  PullCurve curve;
  for (const auto& part : parts) {
    for (const Row& row : rows_of(part.points(), 3).value_or(std::vector<Row>{}))
      curve.points.push_back({static_cast<std::uint32_t>(row[0]), row[1], row[2]});
  }
  const auto held = static_cast<std::uint32_t>(curve.points.size());
  curve.missing = pull.curve_points() > held ? pull.curve_points() - held : 0;
  return curve;
}

}  // namespace strandproof::proto
