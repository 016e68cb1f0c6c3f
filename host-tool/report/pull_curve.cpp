#include "host-tool/report/pull_curve.hpp"

#include <fmt/core.h>

namespace strandproof::host::report {
namespace {

constexpr std::size_t parts_most = 8;  // 128 points of at most 15 bytes are 6 parts of 360

}  // namespace

proto::PullCurve curve_of(const archive::Archive& kept, const archive::StoredRecord& stored,
                          const wire::PullRecord& pull) {
  std::vector<wire::CurvePart> parts;
  if (pull.curve_points() == 0 || stored.sequence == 0) return proto::curve_of(pull, parts);
  for (const auto& before : kept.find({.device = stored.device,
                            .last = stored.sequence - 1,
                            .newest_first = true,
                            .limit = parts_most})) {
    wire::Record r;
    if (!r.ParseFromString(before.body) || !r.has_curve() || before.boot != stored.boot ||
        r.curve().instruction() != pull.instruction())
      break;
    parts.push_back(r.curve());
  }
  return proto::curve_of(pull, parts);
}

std::string missing_points(const proto::PullCurve& curve) {
  if (curve.missing == 0) return "";
  return fmt::format(
      "{} of {} points are missing: their records are not in the archive, or the jack's log had no room",
      curve.missing, curve.missing + curve.points.size());
}

}  // namespace strandproof::host::report
