#include "sim/fit/recording.hpp"

#include <charconv>
#include <cmath>
#include <fstream>
#include <stdexcept>

#include "sim/bench/cell_readout.hpp"
#include "sim/bench/format.hpp"

namespace strandproof::sim {
namespace {

// How a channel may stand in a file: counts over its span, or a value in a unit.
struct Source {
  std::size_t channel;
  std::string_view counts, value;
  double unit;  // SI
  double (*span)(const Scenario&);
};

constexpr std::array<Source, Recording::channels> sources{{
    {Recording::pressure_a, "pressure_a_counts", "pressure_a_mbar", 100.0,
     [](const Scenario& s) { return s.sensors.pressure_span; }},
    {Recording::pressure_b, "pressure_b_counts", "pressure_b_mbar", 100.0,
     [](const Scenario& s) { return s.sensors.pressure_span; }},
    {Recording::stroke, "stroke_counts", "stroke_um", 1e-6,
     [](const Scenario& s) { return s.sensors.stroke_span; }},
    {Recording::cell, "load_cell_counts", "load_cell_n", 1.0,
     [](const Scenario& s) { return s.sensors.cell_span; }},
}};

constexpr std::size_t nowhere = std::size_t(-1);

class Reader {
 public:
  Reader(std::string path, const Scenario& scenario) : path_{std::move(path)}, scenario_{scenario} {}

  Recording read(double seconds) {
    std::ifstream file(path_, std::ios::binary);
    std::string line;
    if (!file || !next(file, line)) {
      fail("can not be read, or is empty; name a trace such as strandproof-sim rig --trace writes");
    }
    find_columns(split(line));
    while (next(file, line) && static_cast<double>(out_.driven.size()) < seconds * 1e3) {
      row(split(line));
    }
    drop_cell_that_was_not_fitted();
    if (out_.driven.size() < shortest) {
      fail("holds " + std::to_string(out_.driven.size()) + " ms; a fit needs at least " +
           std::to_string(shortest));
    }
    return std::move(out_);
  }

 private:
  static constexpr std::size_t shortest = 2000;

  [[noreturn]] void fail(const std::string& what) const {
    throw std::runtime_error(path_ + (line_ > 0 ? ":" + std::to_string(line_) : "") + ": " + what);
  }

  bool next(std::ifstream& file, std::string& line) {
    if (!std::getline(file, line)) {
      return false;
    }
    ++line_;
    if (!line.empty() && line.back() == '\r') {
      line.pop_back();
    }
    return true;
  }

  void find_columns(const std::vector<std::string_view>& names) {
    width_ = names.size();
    const auto at = [&](std::string_view name) {
      for (std::size_t i = 0; i < names.size(); ++i) {
        if (names[i] == name) {
          return i;
        }
      }
      return nowhere;
    };
    time_ = at("time_s");
    driven_ = at("driven_bits");
    if (time_ == nowhere || driven_ == nowhere) {
      fail("has no column " + std::string(time_ == nowhere ? "time_s" : "driven_bits") +
           " in its first line; add it");
    }
    out_.simulated = at("force_strand_n") != nowhere;
    for (const Source& source : sources) {
      const std::size_t counts = at(source.counts);
      columns_[source.channel] = counts != nowhere ? counts : at(source.value);
      counted_[source.channel] = counts != nowhere;
      if (columns_[source.channel] == nowhere && source.channel != Recording::cell) {
        fail("has no column " + std::string(source.counts) + " or " + std::string(source.value) +
             " in its first line; add it");
      }
    }
  }

  double number(const std::vector<std::string_view>& fields, std::size_t column) const {
    double value = 0.0;
    const std::string_view text = fields[column];
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) {
      fail("\"" + std::string(text) + "\" in column " + std::to_string(column + 1) +
           " is no number; correct it");
    }
    return value;
  }

  void row(const std::vector<std::string_view>& fields) {
    if (fields.size() != width_) {
      fail("has " + std::to_string(fields.size()) + " columns, the first line has " + std::to_string(width_));
    }
    const double time = number(fields, time_);
    if (!out_.driven.empty() && !(std::abs(time - before_ - 1e-3) < 0.2e-3)) {
      fail(
          format("comes %.4f s after the row before it; a trace has a row each millisecond", time - before_));
    }
    before_ = time;
    const double bits = number(fields, driven_);
    if (!(bits >= 0.0 && bits <= 255.0)) {
      fail("driven_bits are 0 to 255");
    }
    out_.driven.push_back(static_cast<port::OutputBits>(bits));
    for (const Source& source : sources) {
      const std::size_t c = source.channel;
      if (columns_[c] != nowhere) {
        const double value = number(fields, columns_[c]);
        out_.read[c].push_back(counted_[c]
                                   ? loop_unit(static_cast<std::uint16_t>(value)) * source.span(scenario_)
                                   : value * source.unit);
        none_of_cell_ = none_of_cell_ && (c != Recording::cell || value == 0.0);
      }
    }
  }

  // The traces of a jack on its bed have the column too, all zeros.
  void drop_cell_that_was_not_fitted() {
    if (none_of_cell_) {
      out_.read[Recording::cell].clear();
    }
  }

  std::string path_;
  const Scenario& scenario_;
  Recording out_;
  std::size_t line_ = 0, width_ = 0, time_ = nowhere, driven_ = nowhere;
  std::array<std::size_t, Recording::channels> columns_{};
  std::array<bool, Recording::channels> counted_{};
  bool none_of_cell_ = true;
  double before_ = 0.0;
};

}  // namespace

std::string_view channel_text(std::size_t channel) {
  constexpr std::array<std::string_view, Recording::channels> texts{"pressure A", "pressure B", "stroke",
                                                                    "reference cell"};
  return texts.at(channel);
}

Recording read_recording(const std::string& path, const Scenario& scenario, double seconds) {
  return Reader(path, scenario).read(seconds);
}

void Recorder::tick(const Moment& m) {
  recording_.driven.push_back(m.driven);
  const std::array<std::uint16_t, Recording::channels> counts{m.sample.pressure_a, m.sample.pressure_b,
                                                              m.sample.stroke, m.sample.load_cell};
  for (const Source& source : sources) {
    if (source.channel != Recording::cell || with_cell_) {
      recording_.read[source.channel].push_back(loop_unit(counts[source.channel]) * source.span(scenario_));
    }
  }
}

}  // namespace strandproof::sim
