#include "sim/bench/rig.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <stdexcept>

#include "sim/bench/cell_readout.hpp"
#include "sim/bench/names.hpp"
#include "sim/bench/routines.hpp"

namespace strandproof::sim {
namespace {

constexpr double lowest_share = 0.05;   // of the top: first set point, below the usual initial force
constexpr double window_up_s = 0.6;     // readings averaged while the ram creeps up
constexpr double window_down_s = 0.08;  // the throttle lets down faster than the slow stage pulls up
constexpr double give_up_s = 240.0;     // for one set point

// Reads the converter back into the quantity, as the person's reading instrument does.
class Gauge {
 public:
  explicit Gauge(const Scenario& s) : s_{s} {}
  void add(const port::RawSample& r) {
    a_ += pressure(r.pressure_a);
    b_ += pressure(r.pressure_b);
    cell_ += force(r);
    stroke_ += loop_unit(r.stroke) * s_.sensors.stroke_span;
    oil_ += oil_low_degc + loop_unit(r.oil_temperature) * (oil_high_degc - oil_low_degc);
    ++count_;
  }
  [[nodiscard]] double force(const port::RawSample& r) const {
    return loop_unit(r.load_cell) * s_.sensors.cell_span;
  }
  [[nodiscard]] RigRow mean() const {
    const double n = count_;
    return {.pressure_a_pa = a_ / n,
            .pressure_b_pa = b_ / n,
            .reference_n = cell_ / n,
            .stroke_m = stroke_ / n,
            .oil_degc = oil_ / n};
  }

 private:
  [[nodiscard]] double pressure(std::uint16_t counts) const {
    return loop_unit(counts) * s_.sensors.pressure_span;
  }
  const Scenario& s_;
  double a_ = 0.0, b_ = 0.0, cell_ = 0.0, stroke_ = 0.0, oil_ = 0.0;
  int count_ = 0;
};

// The person at the rig: sees the reference cell through the samples, moves with the pendant keys.
class RigPerson final : public Observer {
 public:
  RigPerson(Bench& bench, const Scenario& s) : bench_{bench}, s_{s} { bench.watch(*this); }
  ~RigPerson() override { bench_.forget(*this); }
  RigPerson(const RigPerson&) = delete;
  RigPerson& operator=(const RigPerson&) = delete;
  void tick(const Moment& m) override { sample_ = m.sample; }

  // Holds these keys until the filtered cell has passed the force; false if it never does.
  bool move_until(const Pendant& keys, double force_n, bool rising) {
    const double until = bench_.board().time_s() + give_up_s;
    while (bench_.board().time_s() < until) {
      hold(keys);
      if (rising ? seen_n_ >= force_n : seen_n_ <= force_n) {
        return true;
      }
    }
    return false;
  }

  RigRow read(const Pendant& keys, double seconds) {
    Gauge gauge(s_);
    const auto ticks = static_cast<int>(seconds * 1000.0);
    for (int i = 0; i < ticks; ++i) {
      hold(keys);
      gauge.add(sample_);
    }
    return gauge.mean();
  }

 private:
  void hold(const Pendant& keys) {
    bench_.person().hands() = keys;
    bench_.step();
    seen_n_ += (Gauge(s_).force(sample_) - seen_n_) * 0.05;  // the needle of the reading instrument
  }
  Bench& bench_;
  const Scenario& s_;
  port::RawSample sample_;
  double seen_n_ = 0.0;
};

std::vector<double> set_points(const Rig& rig) {
  const auto n = static_cast<int>(rig.points);
  std::vector<double> points;
  for (int i = 0; i < n; ++i) {
    const double share = lowest_share + (1.0 - lowest_share) * i / (n - 1);
    points.push_back(static_cast<double>(static_cast<long>(rig.top * share / 100.0 + 0.5)) * 100.0);
  }
  return points;
}

Pendant creep() {
  return pull_keys();
}
Pendant fast() {
  Pendant keys = pull_keys();
  keys.select = true;
  return keys;
}

void keep(RigRuns& runs, RigRow row, int run, bool up, double set_point) {
  row.run = run;
  row.up = up;
  row.zero = set_point == 0.0;
  row.set_point_n = set_point;
  runs.rows.push_back(row);
}

// The window begins at the set point, while the ram creeps on: readings lie a little above it.
bool run_up(RigPerson& person, RigRuns& runs, const std::vector<double>& points, int run) {
  for (const double point : points) {
    if (!person.move_until(fast(), point - creep_before_n, true) ||
        !person.move_until(creep(), point, true)) {
      runs.failure = "the rig never reached " + std::to_string(static_cast<long>(point)) +
                     " N; lower rig.top or raise jack.rig_rating";
      return false;
    }
    keep(runs, person.read(creep(), window_up_s), run, true, point);
  }
  return true;
}

bool run_down(RigPerson& person, RigRuns& runs, const std::vector<double>& points, int run) {
  for (auto point = points.rbegin(); point != points.rend(); ++point) {
    if (point == points.rbegin()) {
      continue;  // at the top the ram turns round: friction changes sign there
    }
    if (!person.move_until(lower_keys(), *point, false)) {
      runs.failure = "the rig did not come down to " + std::to_string(static_cast<long>(*point)) + " N";
      return false;
    }
    keep(runs, person.read(lower_keys(), window_down_s), run, false, *point);
  }
  return true;
}

// To no load, and still for long enough for a zero.
bool unload(RigPerson& person, RigRuns& runs, const Scenario& s) {
  if (!person.move_until(lower_keys(), 0.002 * s.sensors.cell_span, false)) {
    runs.failure = "the rig did not come down to no load";
    return false;
  }
  static_cast<void>(person.read(lower_keys(), 3.0));
  static_cast<void>(person.read(nothing(), 1.0));
  return true;
}

bool exercise(RigPerson& person, RigRuns& runs, const Scenario& s) {
  if (!person.move_until(fast(), s.rig.top - creep_before_n, true) ||
      !person.move_until(creep(), s.rig.top, true)) {
    runs.failure = "the rig never reached its top; lower rig.top or raise jack.rig_rating";
    return false;
  }
  return unload(person, runs, s);
}

}  // namespace

RigRuns run_rig(Bench& bench, const Scenario& s, int exercises) {
  RigRuns runs;
  RigPerson person(bench, s);
  bench.person().command("rig");
  if (!bench.run(30.0) || bench.person().failed()) {
    runs.failure = "the controller did not enter the rig mode";
    return runs;
  }
  const std::vector<double> points = set_points(s.rig);
  const auto count = static_cast<int>(s.rig.runs);
  for (int i = 0; i < exercises; ++i) {
    if (!exercise(person, runs, s)) {
      return runs;
    }
  }
  for (int run = 1; run <= count; ++run) {
    keep(runs, person.read(nothing(), 1.0), run, true, 0.0);
    if (!run_up(person, runs, points, run)) {
      break;
    }
    if (run == count && !run_down(person, runs, points, run)) {
      break;
    }
    if (!unload(person, runs, s)) {
      break;
    }
    keep(runs, person.read(nothing(), 1.0), run, true, 0.0);
  }
  bench.person().hands() = nothing();
  return runs;
}

namespace {

// The simulated reference cell is declared like a real one: class 0.5, due a year after the runs.
std::string cell_columns(const Scenario& s, const std::string& taken_at) {
  if (taken_at.size() < 20 || taken_at.find_first_not_of("0123456789") != 4) {
    throw std::runtime_error("--taken-at \"" + taken_at + "\" is no time; write 2026-05-04T09:30:00+02:00");
  }
  std::string due = std::to_string(std::stoi(taken_at.substr(0, 4)) + 1) + taken_at.substr(4);
  if (const auto leap = due.find("-02-29"); leap != due.npos) {
    due.replace(leap, 6, "-02-28");
  }
  std::array<char, 120> text{};
  std::snprintf(text.data(), text.size(), ",9001,0.5,%.0f,%.0f,%s,1000", 0.02 * s.sensors.cell_span,
                s.sensors.cell_span, due.c_str());
  return text.data();
}

}  // namespace

std::string rig_csv(const RigRuns& runs, const Scenario& s, const std::string& taken_at) {
  std::string text =
      "run,direction,set_point_n,pressure_a_mbar,pressure_b_mbar,reference_n,stroke_um,oil_c,jack_serial,"
      "sensor_a_serial,sensor_b_serial,origin,taken_at,cell_serial,cell_class,cell_from_n,cell_to_n,cell_due,"
      "cell_ppm\n";
  const std::string cell = cell_columns(s, taken_at) + "\n";
  for (const RigRow& row : runs.rows) {
    std::array<char, 320> line{};
    std::snprintf(line.data(), line.size(), "%d,%s,%.0f,%.2f,%.2f,%.2f,%.0f,%.1f,%.0f,%.0f,%.0f,simulated,%s",
                  row.run,
                  row.zero ? "zero"
                  : row.up ? "up"
                           : "down",
                  row.set_point_n, row.pressure_a_pa / 100.0, row.pressure_b_pa / 100.0, row.reference_n,
                  row.stroke_m * 1e6, row.oil_degc, s.jack.serial, s.sensors.sensor_a_serial,
                  s.sensors.sensor_b_serial, taken_at.c_str());
    text += line.data();
    text += cell;
  }
  return text;
}

namespace {

Column fit_line(const RigRuns& runs, bool up, double RigRow::*pressure, const char* name) {
  double n = 0.0, sum_p = 0.0, sum_f = 0.0;
  for (const RigRow& row : runs.rows) {
    if (!row.zero && row.up == up) {
      n += 1.0;
      sum_p += row.*pressure;
      sum_f += row.reference_n;
    }
  }
  if (n < 3.0) {
    throw std::runtime_error(std::string(name) + ": fewer than three points on the rig; run it again");
  }
  const double mean_p = sum_p / n;
  const double mean_f = sum_f / n;
  double pp = 0.0, pf = 0.0, low = 1e12, high = 0.0;
  for (const RigRow& row : runs.rows) {
    if (!row.zero && row.up == up) {
      const double p = row.*pressure;
      pp += (p - mean_p) * (p - mean_p);
      pf += (p - mean_p) * (row.reference_n - mean_f);
      low = std::min(low, p);
      high = std::max(high, p);
    }
  }
  Column column;
  column.newton_per_pascal = pf / pp;
  column.intercept_n = mean_f - column.newton_per_pascal * mean_p;
  if (!(column.newton_per_pascal > 0.0)) {
    throw std::runtime_error(std::string(name) + ": force does not rise with pressure; check the rig");
  }
  for (int i = 0; i < 6; ++i) {
    const double p = low + (high - low) * i / 5.0;
    const auto mbar = static_cast<std::uint32_t>(p / 100.0 + 0.5);
    column.pressure_mbar.push_back(mbar);
    column.force_n.push_back(
        static_cast<std::uint32_t>(column.intercept_n + column.newton_per_pascal * 100.0 * mbar + 0.5));
  }
  return column;
}

}  // namespace

PlainTable fit_plain_table(const RigRuns& runs) {
  return {fit_line(runs, true, &RigRow::pressure_a_pa, "pressure A, increasing"),
          fit_line(runs, false, &RigRow::pressure_a_pa, "pressure A, decreasing"),
          fit_line(runs, true, &RigRow::pressure_b_pa, "pressure B, increasing"),
          fit_line(runs, false, &RigRow::pressure_b_pa, "pressure B, decreasing")};
}

double table_force(const PlainTable& t, const Snapshot& moving, const Snapshot& settled, double stiffness) {
  const double a = t.a_increasing.intercept_n + t.a_increasing.newton_per_pascal * moving.pressure_pa;
  const double b = t.b_increasing.intercept_n + t.b_increasing.newton_per_pascal * moving.pressure_pa;
  return 0.5 * (a + b) - stiffness * (moving.stroke_m - settled.stroke_m);
}

}  // namespace strandproof::sim
