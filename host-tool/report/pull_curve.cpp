#include "host-tool/report/pull_curve.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace strandproof::host::report {
namespace {

constexpr std::size_t parts_most = 8;  // 128 points of at most 15 bytes are 6 parts of 360

}  // namespace

void CurveParts::take(const archive::StoredRecord& stored, const wire::Record& record) {
  const bool goes_on = record.has_curve() && !parts_.empty() && boot_ == stored.boot &&
                       parts_.back().instruction() == record.curve().instruction();
  if (!goes_on) parts_.clear();
  boot_ = stored.boot;
  if (record.has_curve()) parts_.push_back(record.curve());
}

proto::PullCurve CurveParts::curve_of(const archive::StoredRecord& stored,
                                      const wire::PullRecord& pull) const {
  const bool own = pull.curve_points() != 0 && !parts_.empty() && boot_ == stored.boot &&
                   parts_.back().instruction() == pull.instruction();
  return proto::curve_of(pull, own ? parts_ : std::vector<wire::CurvePart>{});
}

proto::PullCurve curve_of(const archive::Archive& kept, const archive::StoredRecord& stored,
                          const wire::PullRecord& pull) {
  CurveParts parts;
  if (pull.curve_points() == 0 || stored.sequence == 0) return parts.curve_of(stored, pull);
  auto before = kept.find(
      {.device = stored.device, .last = stored.sequence - 1, .newest_first = true, .limit = parts_most});
  std::ranges::reverse(before);  // no view: clang 14 does not take this library's
  for (auto& one : before) {
    wire::Record r;
    if (!r.ParseFromString(one.body)) r.Clear();
    parts.take(one, r);
  }
  return parts.curve_of(stored, pull);
}

std::string missing_points(const proto::PullCurve& curve) {
  if (curve.missing == 0) return "";
  return fmt::format(
      "{} of {} points are missing: their records are not in the archive, or the jack's log had no room",
      curve.missing, curve.missing + curve.points.size());
}

}  // namespace strandproof::host::report
