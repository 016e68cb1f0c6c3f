// 4 to 20 mA channels: span, errors, noise, the NE 43 levels and the converter.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace strandproof::sim {

struct ChannelParameters {
  double low = 0.0;        // value at 4 mA, in the SI unit of the quantity (degC for a temperature)
  double high = 1.0;       // value at 20 mA
  double noise = 0.0;      // standard deviation of one sample, as a fraction of the span
  double gain = 0.0;       // relative error of the gain
  double zero = 0.0;       // offset, as a fraction of the span
  double linearity = 0.0;  // deviation from the straight line in the middle of the span, as a fraction of it
};

// What is wrong with a transmitter or its wire besides Wiring.
struct Upset {
  double gain = 0.0;    // relative
  double offset = 0.0;  // share of the span
  double noise = 1.0;   // times
};

enum class Wiring : std::uint8_t { sound, open_circuit, short_circuit, stuck };

// n channels that convert in the same tick, worked lane beside lane.
template <std::size_t n>
class Channels {
 public:
  explicit Channels(const std::array<ChannelParameters, n>& of) {
    for (std::size_t i = 0; i < n; ++i) {
      const ChannelParameters& p = of[i];
      low_[i] = p.low;
      per_unit_[i] = 16.0 / (p.high - p.low) * (1.0 + p.gain);
      offset_[i] = 4.0 + 16.0 * p.zero;
      noise_[i] = 16.0 * p.noise;
      per_span_[i] = 1.0 / (p.high - p.low);
      bow_[i] = 4.0 * 16.0 * p.linearity;
    }
  }

  // The converters' counts (0 to 65535 is 0 to 24 mA) for these values, all sound. normals: standard normal
  // draws. A sound transmitter never drives outside 3.8 to 20.5 mA (NAMUR NE 43).
  const std::array<std::uint16_t, n>& sample(const std::array<double, n>& values,
                                             const std::array<double, n>& normals) {
    std::array<double, n> ma;
    for (std::size_t i = 0; i < n; ++i) {
      const double share = (values[i] - low_[i]) * per_span_[i];
      ma[i] = offset_[i] + (values[i] - low_[i]) * per_unit_[i] + bow_[i] * share * (1.0 - share) +
              noise_[i] * normals[i];
    }
    // A loop a step: in one loop g++ leads each bound past the steps behind it, by a branch, and no lanes are
    // left.
    for (double& one : ma) {
      one = one < 3.8 ? 3.8 : one;
    }
    for (double& one : ma) {
      one = one > 20.5 ? 20.5 : one;
    }
    for (double& one : ma) {
      // Rounded up at the low bound: 3.8 mA itself still counts as measuring.
      one = one * (65535.0 / 24.0) + 0.5;
    }
    std::array<std::int32_t, n> counts;  // vectors convert to 32 bits
    for (std::size_t i = 0; i < n; ++i) {
      counts[i] = static_cast<std::int32_t>(ma[i]);
    }
    std::array<std::uint16_t, n> words;  // apart, for them to be stored as one
    for (std::size_t i = 0; i < n; ++i) {
      words[i] = static_cast<std::uint16_t>(counts[i]);
    }
    return last_ = words;
  }
  // The same with these wires.
  const std::array<std::uint16_t, n>& sample(const std::array<double, n>& values,
                                             const std::array<double, n>& normals,
                                             const std::array<Wiring, n>& wires) {
    const std::array<std::uint16_t, n> before = last_;
    read_ = sample(values, normals);
    for (std::size_t i = 0; i < n; ++i) {
      if (wires[i] != Wiring::sound) {
        last_[i] = before[i];
        read_[i] = wires[i] == Wiring::stuck ? before[i] : wires[i] == Wiring::open_circuit ? 0 : 65535;
      }
    }
    return read_;
  }
  // What an upset makes of one's value and draw.
  void upset(std::size_t i, const Upset& by, double& value, double& normal) const {
    const double span = 1.0 / per_span_[i];
    value = value * (1.0 + by.gain) + by.offset * span;
    normal *= by.noise;
  }

 private:
  std::array<double, n> low_, per_unit_, offset_, noise_, per_span_, bow_;
  std::array<std::uint16_t, n> last_{}, read_{};  // of a sound wire, and of any
};

}  // namespace strandproof::sim
