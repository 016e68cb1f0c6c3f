// Pulls and trips of one jack over time, and how its slopes drift.
#include <fmt/core.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/store.hpp"

namespace strandproof::host::archive {
namespace {

enum class Event : std::uint32_t {
#define EVENT(number, id, text, detail) id = number,
#include "proto/catalogue.def"
};
enum class Verdict : std::uint32_t {
#define VERDICT(number, id, text) id = number,
#include "proto/catalogue.def"
};

constexpr double seconds_a_year = 365.25 * 86400.0;

using MonthName = std::pair<int, int>;  // year, month

MonthName month_of(std::int64_t utc_s) {
  using namespace std::chrono;
  const year_month_day day{floor<days>(sys_seconds{seconds{utc_s}})};
  return {static_cast<int>(day.year()), static_cast<int>(static_cast<unsigned>(day.month()))};
}

// Means and squares as they come, without losing digits (Welford 1962).
struct Slopes {
  double count = 0.0, mean = 0.0, squares = 0.0;
  void take(double ratio) {
    count += 1.0;
    const double off = ratio - mean;
    mean += off / count;
    squares += off * (ratio - mean);
  }
};

struct Line {
  std::vector<std::pair<double, double>> points;  // years after the first, ratio
  void fit(Statistics& into) const;
};

// Least squares of a straight line; its slope's standard error with n - 2 degrees of freedom.
void Line::fit(Statistics& into) const {
  const auto n = static_cast<double>(points.size());
  if (points.size() < 3) return;
  double t = 0.0, y = 0.0;
  for (const auto& [at, ratio] : points) {
    t += at / n;
    y += ratio / n;
  }
  double tt = 0.0, ty = 0.0, yy = 0.0;
  for (const auto& [at, ratio] : points) {
    tt += (at - t) * (at - t);
    ty += (at - t) * (ratio - y);
    yy += (ratio - y) * (ratio - y);
  }
  if (!(tt > 0.0)) return;  // all at one moment: nothing is known of a drift
  into.drift_per_year = ty / tt;
  into.drift_error = std::sqrt(std::max(0.0, yy - ty * ty / tt) / (n - 2.0) / tt);
}

struct Gathered {
  std::map<MonthName, Month> months;
  std::map<MonthName, Slopes> slopes;
  Line line;
  std::int64_t begin_s = 0;

  Month& at(std::int64_t utc_s) {
    const auto name = month_of(utc_s);
    Month& m = months[name];
    m.year = name.first;
    m.month = name.second;
    return m;
  }
  void pull(std::int64_t utc_s, long long verdict, double seen, double planned) {
    Month& m = at(utc_s);
    ++m.pulls;
    if (verdict == static_cast<long long>(Verdict::within_limits)) ++m.within_limits;
    if (!(seen > 0.0) || !(planned > 0.0)) return;
    slopes[month_of(utc_s)].take(seen / planned);
    if (line.points.empty()) begin_s = utc_s;
    line.points.emplace_back(static_cast<double>(utc_s - begin_s) / seconds_a_year, seen / planned);
  }
};

Statistics finished(Gathered& g) {
  Statistics s;
  for (auto& [name, month] : g.months) {
    const Slopes& slope = g.slopes[name];
    month.slopes = static_cast<std::uint32_t>(slope.count);
    month.slope_mean = slope.mean;
    month.slope_deviation = slope.count > 1.0 ? std::sqrt(slope.squares / (slope.count - 1.0)) : 0.0;
    s.pulls += month.pulls;
    s.trips += month.trips;
    s.slopes += month.slopes;
    s.months.push_back(month);
  }
  s.trips_per_hundred = s.pulls == 0 ? 0.0 : 100.0 * s.trips / s.pulls;
  g.line.fit(s);
  return s;
}

}  // namespace

namespace {

// The index record_table holds all that is asked of the record, and its order.
constexpr const char* slopes_of_table =
    "from record r join instruction i on i.device = r.device and i.id = r.instruction where r.kind = 2 and "
    "r.device = :d and r.revision = :v and r.stiffness > 0 and i.stiffness > 0";

}  // namespace

std::uint64_t Archive::count_slopes(std::uint32_t device, std::uint32_t revision) const {
  return store_->wide(
      store_->query(fmt::format("select count(*) {}", slopes_of_table), 1, {device, revision})[0][0]);
}

std::vector<SeenSlope> Archive::slopes(std::uint32_t device, std::uint32_t revision, End end,
                                       std::size_t limit) const {
  std::vector<SeenSlope> out;
  store_->each(fmt::format("select r.bed, r.position, r.reel, r.sequence, r.utc_s, r.stiffness, i.stiffness, "
                           "i.body_hex {} order by r.sequence {} limit {}",
                           slopes_of_table, end == End::newest ? "desc" : "asc", limit),
               8, {device, revision}, [&](const Row& r) {
                 out.push_back({store_->narrow(r[0]), store_->narrow(r[1]), store_->narrow(r[2]),
                                store_->wide(r[3]), store_->number(r[4]), store_->number(r[5]),
                                store_->number(r[6]), store_->bytes(r[7])});
               });
  if (end == End::newest) std::ranges::reverse(out);
  return out;
}

Statistics Archive::statistics(std::uint32_t device, std::int64_t from_s, std::int64_t until_s) const {
  Gathered g;
  const std::vector<Value> span{device, std::max<std::int64_t>(from_s, 1), until_s};
  store_->each(
      "select r.utc_s, r.code, r.stiffness, coalesce(i.stiffness, 0) from record r left join instruction i "
      "on "
      "i.device = r.device and i.id = r.instruction where r.kind = 2 and r.device = :d and r.utc_s >= :f and "
      "r.utc_s < :u order by r.utc_s",
      4, span, [&](const Row& r) {
        g.pull(store_->number(r[0]), store_->number(r[1]), static_cast<double>(store_->number(r[2])),
               static_cast<double>(store_->number(r[3])));
      });
  std::vector<Value> trips{static_cast<long long>(Event::trip)};
  trips.insert(trips.end(), span.begin(), span.end());
  store_->each(
      "select utc_s from record where kind = 1 and code = :c and device = :d and utc_s >= :f and utc_s < :u",
      1, trips, [&](const Row& r) { ++g.at(store_->number(r[0])).trips; });
  return finished(g);
}

}  // namespace strandproof::host::archive
