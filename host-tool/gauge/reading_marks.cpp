#include "host-tool/gauge/reading_marks.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <optional>
#include <set>

namespace strandproof::host::gauge {
namespace {

constexpr double mbar_alike = 10.0;
constexpr double n_alike = 10.0;
constexpr std::size_t fewest = 5;

struct Mark {
  char direction = 'u';
  double a_mbar = 0.0, b_mbar = 0.0, force_n = 0.0;
};

bool alike(const Mark& x, const Mark& y) {
  return x.direction == y.direction && std::abs(x.a_mbar - y.a_mbar) <= mbar_alike &&
         std::abs(x.b_mbar - y.b_mbar) <= mbar_alike && std::abs(x.force_n - y.force_n) <= n_alike;
}

std::string text_of(const RunRow& r) {
  return fmt::format("{}{:.0f}/{:.0f}/{:.0f}", r.direction == Direction::up ? 'u' : 'd', r.pressure_mbar[0],
                     r.pressure_mbar[1], r.reference_n);
}

bool loaded(const RunRow& r) {
  return r.direction != Direction::zero;
}

std::optional<Mark> parsed(std::string_view word) {
  Mark m;
  if (word.empty()) return std::nullopt;
  m.direction = word.front();
  const char* at = word.data() + 1;
  const char* const end = word.data() + word.size();
  for (double* into : {&m.a_mbar, &m.b_mbar, &m.force_n}) {
    const auto [stop, error] = std::from_chars(at, end, *into);
    if (error != std::errc{}) return std::nullopt;
    at = stop == end ? end : stop + 1;
  }
  return m;
}

std::vector<Mark> split(std::string_view marks) {
  std::vector<Mark> found;
  while (!marks.empty()) {
    const auto space = marks.find(' ');
    if (const auto m = parsed(marks.substr(0, space))) found.push_back(*m);
    marks.remove_prefix(space == marks.npos ? marks.size() : space + 1);
  }
  return found;
}

// Sorted by force, so that only neighbours are looked at; each of `other` stands for one of `few`.
bool all_found(std::vector<Mark> few, std::vector<Mark> other) {
  const auto by_force = [](const Mark& x, const Mark& y) { return x.force_n < y.force_n; };
  std::sort(few.begin(), few.end(), by_force);
  std::sort(other.begin(), other.end(), by_force);
  std::vector<bool> taken(other.size());
  std::size_t from = 0;
  for (const Mark& m : few) {
    while (from < other.size() && other[from].force_n < m.force_n - n_alike) ++from;
    std::size_t i = from;
    while (i < other.size() && other[i].force_n <= m.force_n + n_alike && (taken[i] || !alike(m, other[i])))
      ++i;
    if (i == other.size() || other[i].force_n > m.force_n + n_alike) return false;
    taken[i] = true;
  }
  return true;
}

bool share(const std::vector<Mark>& a, const std::vector<Mark>& b) {
  if (std::min(a.size(), b.size()) < fewest) return false;
  return a.size() <= b.size() ? all_found(a, b) : all_found(b, a);
}

std::vector<Mark> of_points(const std::vector<Point>& points) {
  std::vector<Mark> marks;
  for (const auto& p : points)
    marks.push_back({'u', 1.0 * p.pressure_mbar, 1.0 * p.pressure_mbar, 1.0 * p.force_n});
  return marks;
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
    if (loaded(r)) marks += (marks.empty() ? "" : " ") + text_of(r);
  }
  return marks;
}

bool share_readings(std::string_view marks, std::string_view other) {
  return share(split(marks), split(other));
}

bool share_points(const std::vector<Point>& a, const std::vector<Point>& b) {
  return share(of_points(a), of_points(b));
}

int copied_series(const Runs& runs) {
  std::map<int, std::string> series;
  for (const auto& r : runs.rows) {
    if (loaded(r)) series[r.run] += text_of(r) + " ";
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
