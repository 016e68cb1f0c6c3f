// What a campaign draws a value from, written with units: "uniform 5 ms to 40 ms", "normal 3 % sd 0.5 %",
// "one of 20 m, 60 m, 100 m". A distribution maps a fraction of (0, 1) to a value; it holds no state.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace strandproof::sim {

enum class Shape : std::uint8_t { uniform, normal, one_of };

struct Distribution {
  Shape shape = Shape::uniform;
  std::vector<double> values;  // uniform: low, high; normal: mean, standard deviation; one of: each; SI

  // u in (0, 1). Normal: by the table of the noise (sim/board/noise.hpp), so without libm.
  [[nodiscard]] double at(double u) const;
  // Smallest and largest value that can come out; normal: six deviations from the mean.
  [[nodiscard]] double low() const;
  [[nodiscard]] double high() const;
};

// Reads one value with its unit; throws UnitError.
using ReadValue = std::function<double(std::string_view)>;

// Throws UnitError: no such shape, a part missing, an upper bound not above the lower one, a deviation not
// above zero.
Distribution parse_distribution(std::string_view text, const ReadValue& read);

// "100 kN to 130 kN in 4": that many values from the first to the last, 2 to 1,000. Throws UnitError.
std::vector<double> parse_steps(std::string_view text, const ReadValue& read);

}  // namespace strandproof::sim
