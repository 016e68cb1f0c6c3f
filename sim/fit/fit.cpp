#include "sim/fit/fit.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "sim/bench/format.hpp"
#include "sim/bench/machine.hpp"
#include "sim/plant/plant.hpp"

namespace strandproof::sim {
namespace {

using Vector = Eigen::VectorXd;
using Matrix = Eigen::MatrixXd;

constexpr std::size_t block = 20;     // ms that are averaged into one value
constexpr double step_of_log = 0.01;  // of the difference quotients
constexpr double known_to = 0.2;     // a value whose standard deviation is above this share of it is not told
constexpr double known_to_s = 5e-3;  // the same of the delay
constexpr double confused = 0.98;    // correlation from which two values can not be told apart
constexpr unsigned most_steps = 25;
constexpr std::string_view delay_key = "valves.delay";

std::vector<const Key*> fitted_keys(bool rig) {
  std::vector<const Key*> keys;
  for (const std::string_view name :
       {std::string_view(rig ? "rig.stiffness" : "bed.abutment_stiffness"), std::string_view("oil.air"),
        std::string_view("jack.friction"), std::string_view("pump.fast_flow"),
        std::string_view("pump.slow_flow"), delay_key}) {
    keys.push_back(find_key(name));
  }
  return keys;
}

plant::Drive drive_of(port::OutputBits bits) {
  const auto on = [bits](port::Output o) { return (bits & port::bit(o)) != 0; };
  return {.motor = on(port::Output::motor),
          .fast_stage = on(port::Output::fast_stage),
          .advance = on(port::Output::advance_valve),
          .lower = on(port::Output::lower_valve),
          .seat = on(port::Output::seat_valve),
          .shut_off_open = on(port::Output::shut_off_valve)};
}

// Of one sample, from neighbours: whatever the signal does slowly falls out. The median, so that steps do
// too; no less than what rounding to a count of the converter does.
double noise_of(const std::vector<double>& read) {
  std::vector<double> apart;
  for (std::size_t i = 1; i < read.size(); ++i) {
    apart.push_back(std::abs(read[i] - read[i - 1]));
  }
  const auto middle = apart.begin() + static_cast<std::ptrdiff_t>(apart.size() / 2);
  std::nth_element(apart.begin(), middle, apart.end());
  const double top = *std::max_element(read.begin(), read.end());
  return std::max(*middle * 1.4826 / std::sqrt(2.0), 1e-5 * std::abs(top) + 1e-12);
}

class Problem {
 public:
  Problem(const Recording& recording, const Scenario& base, bool rig)
      : recording_{recording},
        base_{base},
        rig_{rig},
        keys_{fitted_keys(rig)},
        blocks_{recording.driven.size() / block} {
    for (std::size_t c = 0; c < Recording::channels; ++c) {
      if (recording.read[c].empty()) {
        continue;
      }
      used_.push_back(c);
      const double weight = std::sqrt(static_cast<double>(block)) / noise_of(recording.read[c]);
      weight_[c] = weight;
      for (std::size_t b = 0; b < blocks_; ++b) {
        double sum = 0.0;
        for (std::size_t i = 0; i < block; ++i) {
          sum += recording.read[c][b * block + i];
        }
        wanted_.push_back(weight * sum / static_cast<double>(block));
      }
    }
  }

  [[nodiscard]] const std::vector<const Key*>& keys() const { return keys_; }
  [[nodiscard]] const std::vector<std::size_t>& used() const { return used_; }
  [[nodiscard]] std::size_t blocks() const { return blocks_; }
  [[nodiscard]] std::size_t size() const { return wanted_.size(); }
  [[nodiscard]] unsigned runs() const { return runs_; }

  // What is left of the trace, in standard deviations of its noise; values in the order of keys().
  Vector residuals(const Vector& values) {
    ++runs_;
    Scenario s = base_;
    for (std::size_t i = 0; i < keys_.size(); ++i) {
      keys_[i]->value(s) = values[static_cast<Eigen::Index>(i)];
    }
    plant::Plant plant(rig_ ? rig_plant(s) : bed_plant(s));
    Vector left(static_cast<Eigen::Index>(size()));
    for (std::size_t b = 0; b < blocks_; ++b) {
      std::array<double, Recording::channels> sum{};
      for (std::size_t i = 0; i < block; ++i) {
        if (b + i > 0) {  // the first row is of the jack as it stood
          plant.step(drive_of(recording_.driven[b * block + i]));
        }
        const plant::Truth& t = plant.truth();
        sum[Recording::pressure_a] += t.p_a;
        sum[Recording::pressure_b] += t.p_b;
        sum[Recording::stroke] += t.stroke;
        sum[Recording::cell] += t.cell;
      }
      for (std::size_t u = 0; u < used_.size(); ++u) {
        const std::size_t at = u * blocks_ + b;
        left[static_cast<Eigen::Index>(at)] =
            weight_[used_[u]] * sum[used_[u]] / static_cast<double>(block) - wanted_[at];
      }
    }
    return left;
  }

 private:
  const Recording& recording_;
  const Scenario& base_;
  bool rig_;
  std::vector<const Key*> keys_;
  std::size_t blocks_;
  std::vector<std::size_t> used_;
  std::array<double, Recording::channels> weight_{};
  std::vector<double> wanted_;
  unsigned runs_ = 0;
};

// The search: logarithms of all values but the delay, which the plant knows in whole milliseconds.
class Search {
 public:
  Search(Problem& problem, const Scenario& base) : problem_{problem} {
    Scenario start = base;
    values_.resize(static_cast<Eigen::Index>(problem.keys().size()));
    for (std::size_t i = 0; i < problem.keys().size(); ++i) {
      const Key& key = *problem.keys()[i];
      const double value = key.value(start);
      values_[static_cast<Eigen::Index>(i)] =
          key.name == delay_key ? std::round(value * 1e3) / 1e3 : std::max(value, 1e-3 * key.high);
    }
    last_ = values_.size() - 1;
    left_ = problem.residuals(values_);
  }

  [[nodiscard]] const Vector& values() const { return values_; }
  [[nodiscard]] const Vector& left() const { return left_; }
  [[nodiscard]] double misfit() const {
    return std::sqrt(left_.squaredNorm() / static_cast<double>(left_.size()));
  }

  // True as long as it gets nearer.
  bool step() {
    const double before = left_.squaredNorm();
    const bool moved = step_of_values();
    for (int by = moved ? 1 : 8; by >= 1; by /= 2) {
      while (try_delay(by) || try_delay(-by)) {
      }
    }
    return left_.squaredNorm() < before * (1.0 - 1e-4);
  }

  // Of the difference quotients: to the logarithm of each value, and to the delay in seconds.
  Matrix slopes() {
    Matrix j(left_.size(), values_.size());
    for (Eigen::Index i = 0; i < last_; ++i) {
      Vector moved = values_;
      moved[i] *= std::exp(step_of_log);
      j.col(i) = (problem_.residuals(moved) - left_) / step_of_log;
    }
    Vector later = values_;
    later[last_] += 1e-3;
    Vector sooner = values_;
    sooner[last_] = std::max(0.0, values_[last_] - 1e-3);
    j.col(last_) = (problem_.residuals(later) - problem_.residuals(sooner)) / (later[last_] - sooner[last_]);
    return j;
  }

 private:
  bool take(const Vector& tried) {
    Vector left = problem_.residuals(tried);
    if (!(left.squaredNorm() < left_.squaredNorm())) {
      return false;
    }
    values_ = tried;
    left_ = std::move(left);
    return true;
  }

  // The value i after a step; the delay in whole milliseconds.
  [[nodiscard]] double moved(Eigen::Index i, double by) const {
    const Key& key = *problem_.keys()[static_cast<std::size_t>(i)];
    if (i == last_) {
      return std::clamp(std::round((values_[i] + std::clamp(by, -0.02, 0.02)) * 1e3) / 1e3, 0.0, key.high);
    }
    return std::clamp(values_[i] * std::exp(std::clamp(by, -1.0, 1.0)), std::max(key.low, 1e-4 * key.high),
                      key.high);
  }

  bool step_of_values() {
    const Matrix j = slopes();
    const Matrix square = j.transpose() * j;
    const Vector down = j.transpose() * left_;
    for (int attempt = 0; attempt < 5; ++attempt) {
      Matrix damped = square;
      damped.diagonal() += damping_ * square.diagonal() + Vector::Constant(values_.size(), 1e-9);
      const Vector by = -damped.ldlt().solve(down);
      Vector tried = values_;
      for (Eigen::Index i = 0; i <= last_; ++i) {
        tried[i] = moved(i, by[i]);
      }
      if (take(tried)) {
        damping_ = std::max(1e-9, damping_ / 10.0);
        return true;
      }
      damping_ *= 10.0;
    }
    damping_ = 1e-3;
    return false;
  }

  bool try_delay(int by_ms) {
    Vector tried = values_;
    tried[last_] = std::round(values_[last_] * 1e3 + by_ms) / 1e3;
    return tried[last_] >= 0.0 && tried[last_] <= problem_.keys().back()->high && take(tried);
  }

  Problem& problem_;
  Vector values_, left_;
  Eigen::Index last_ = 0;  // the delay
  double damping_ = 1e-3;
};

// Why the trace does not tell a value: nothing of it follows it, or something else does the same.
std::string reason(const Problem& problem, const Matrix& information, const Matrix& covariance,
                   Eigen::Index i, double enough) {
  if (1.0 / std::sqrt(std::max(information(i, i), 1e-30)) > enough) {
    return "nothing in the trace follows it";
  }
  Eigen::Index other = -1;
  double most = confused;
  for (Eigen::Index k = 0; k < covariance.cols(); ++k) {
    const double r = std::abs(covariance(i, k)) / std::sqrt(covariance(i, i) * covariance(k, k));
    if (k != i && r > most) {
      most = r;
      other = k;
    }
  }
  return other < 0 ? "the trace is too short or too noisy for it"
                   : format("it can not be told apart from %s (correlation %.3f)",
                            std::string(problem.keys()[static_cast<std::size_t>(other)]->name).c_str(), most);
}

std::vector<Estimate> estimates_of(const Problem& problem, Search& search) {
  const Matrix j = search.slopes();
  const double unexplained = std::max(1.0, search.misfit() * search.misfit());
  const Matrix information = j.transpose() * j / unexplained;
  // Scaled, and with a trace on its diagonal, so that what is not known at all stays finite.
  const Vector scale = information.diagonal().cwiseSqrt().cwiseMax(1e-12).cwiseInverse();
  Matrix scaled = scale.asDiagonal() * information * scale.asDiagonal();
  scaled.diagonal().array() += 1e-9;
  const Matrix inverse = scaled.ldlt().solve(Matrix::Identity(scaled.rows(), scaled.cols()));
  const Matrix covariance = scale.asDiagonal() * inverse * scale.asDiagonal();

  std::vector<Estimate> found;
  for (Eigen::Index i = 0; i < covariance.cols(); ++i) {
    const Key& key = *problem.keys()[static_cast<std::size_t>(i)];
    const double value = search.values()[i];
    const double sd = std::sqrt(covariance(i, i));
    Estimate e{.key = &key, .value = value, .sd = 0.0, .told = false, .why = {}};
    if (key.name == delay_key) {
      e.sd = std::hypot(sd, 1e-3 / std::sqrt(12.0));  // it is looked for in whole milliseconds
      e.told = e.sd <= known_to_s;
      e.why = e.told ? "" : reason(problem, information, covariance, i, known_to_s);
    } else {
      e.sd = sd * value;
      e.told = sd <= known_to;
      e.why = e.told ? "" : reason(problem, information, covariance, i, known_to);
    }
    found.push_back(e);
  }
  return found;
}

}  // namespace

bool Fit::explained() const {
  return std::all_of(misfit.begin(), misfit.end(), [](double m) { return m <= worst_misfit; });
}

Fit fit_jack(const Recording& recording, const Scenario& base, bool rig,
             const std::function<void(unsigned, double)>& progress) {
  Problem problem(recording, base, rig);
  Search search(problem, base);
  Fit fit;
  bool nearer = true;
  while (nearer && fit.steps < most_steps) {
    nearer = search.step();
    ++fit.steps;
    if (progress) {
      progress(fit.steps, search.misfit());
    }
  }
  fit.estimates = estimates_of(problem, search);
  for (std::size_t u = 0; u < problem.used().size(); ++u) {
    const auto of = search.left().segment(static_cast<Eigen::Index>(u * problem.blocks()),
                                          static_cast<Eigen::Index>(problem.blocks()));
    fit.misfit[problem.used()[u]] = std::sqrt(of.squaredNorm() / static_cast<double>(problem.blocks()));
  }
  fit.runs = problem.runs();
  return fit;
}

}  // namespace strandproof::sim
