#include "host-tool/gauge/reading_marks.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <map>
#include <set>
#include <vector>

#include "proto/crc32c.hpp"

namespace strandproof::host::gauge {
namespace {

std::string mark_of(const RunRow& r) {
  const std::string text =
      fmt::format("{} {:.1f} {:.1f} {:.0f}", r.direction == Direction::up ? "up" : "down", r.pressure_mbar[0],
                  r.pressure_mbar[1], r.reference_n);
  const std::vector<std::uint8_t> bytes(text.begin(), text.end());
  return fmt::format("{:08x}", proto::crc32c(bytes));
}

bool loaded(const RunRow& r) {
  return r.direction != Direction::zero;
}

std::set<std::string_view> split(std::string_view marks) {
  std::set<std::string_view> found;
  constexpr std::size_t digits = 8;
  for (; marks.size() >= digits; marks.remove_prefix(std::min(digits + 1, marks.size()))) {
    found.insert(marks.substr(0, digits));
  }
  return found;
}

}  // namespace

std::int64_t first_taken_s(const Runs& runs) {
  std::int64_t first = runs.last_taken_s;
  for (const auto& r : runs.rows) first = std::min(first, r.taken_s);
  return first;
}

std::string reading_marks(const Runs& runs) {
  std::string marks;
  for (const auto& r : runs.rows) {
    if (loaded(r)) marks += (marks.empty() ? "" : " ") + mark_of(r);
  }
  return marks;
}

bool share_readings(std::string_view marks, std::string_view other) {
  const auto a = split(marks);
  const auto b = split(other);
  const auto shared = std::count_if(a.begin(), a.end(), [&](auto mark) { return b.contains(mark); });
  return 2 * static_cast<std::size_t>(shared) > std::min(a.size(), b.size());
}

int copied_series(const Runs& runs) {
  std::map<int, std::string> series;
  for (const auto& r : runs.rows) {
    if (loaded(r)) series[r.run] += mark_of(r);
  }
  std::set<std::string> before;
  for (const auto& [run, marks] : series) {
    if (!before.insert(marks).second) return run;
  }
  return 0;
}

bool channels_are_one(const Runs& runs) {
  return std::all_of(runs.rows.begin(), runs.rows.end(),
                     [](const RunRow& r) { return !loaded(r) || r.pressure_mbar[0] == r.pressure_mbar[1]; });
}

}  // namespace strandproof::host::gauge
