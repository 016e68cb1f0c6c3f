// 4 to 20 mA channels: span, errors, noise, the NE 43 levels and the converter.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "sim/plant/lanes.hpp"

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
      // 4 mA and 16 mA times the share of the span with its gain and its zero, and a parabola that is 0 at
      // both ends: 4 L s (1 - s).
      const double per_unit = 1.0 / (p.high - p.low);
      const double bow = 4.0 * span_counts * p.linearity;
      low_[i] = p.low;
      slope_[i] = (span_counts * (1.0 + p.gain) + bow) * per_unit;
      bend_[i] = bow * per_unit * per_unit;
      zero_[i] = (4.0 + 16.0 * p.zero) * per_ma + 0.5;
      noise_[i] = span_counts * p.noise;
      span_[i] = p.high - p.low;
    }
  }

  // The converters' counts (0 to 65535 is 0 to 24 mA) for these values, all sound. normals: standard normal
  // draws. A sound transmitter never drives outside 3.8 to 20.5 mA (NAMUR NE 43). Worked in counts: no mA
  // is left to convert.
  std::array<std::uint16_t, n> sample(const std::array<double, n>& values,
                                      const std::array<double, n>& normals) {
    using Lanes = plant::Lanes<n>;
    const typename Lanes::Vector least = typename Lanes::Vector{} + (3.8 * per_ma + 0.5);
    const typename Lanes::Vector most = typename Lanes::Vector{} + (20.5 * per_ma + 0.5);
    const typename Lanes::Vector above = Lanes(values).v - Lanes(low_).v;
    typename Lanes::Vector read = above * (Lanes(slope_).v - Lanes(bend_).v * above) +
                                  (Lanes(zero_).v + Lanes(noise_).v * Lanes(normals).v);
    read = read < least ? least : read;
    read = read > most ? most : read;
    std::array<std::int32_t, n> counts;  // vectors convert to 32 bits
    for (std::size_t i = 0; i < n; ++i) {
      counts[i] = static_cast<std::int32_t>(read[i]);
    }
    std::array<std::uint16_t, n> words;  // apart, for them to be stored as one
    for (std::size_t i = 0; i < n; ++i) {
      words[i] = static_cast<std::uint16_t>(counts[i]);
    }
    last_ = words;
    return words;  // in a register: read back, the caller would wait for it
  }
  // The same with these wires.
  std::array<std::uint16_t, n> sample(const std::array<double, n>& values,
                                      const std::array<double, n>& normals,
                                      const std::array<Wiring, n>& wires) {
    const std::array<std::uint16_t, n> before = last_;
    std::array<std::uint16_t, n> read = sample(values, normals);
    for (std::size_t i = 0; i < n; ++i) {
      if (wires[i] != Wiring::sound) {
        last_[i] = before[i];
        read[i] = wires[i] == Wiring::stuck ? before[i] : wires[i] == Wiring::open_circuit ? 0 : 65535;
      }
    }
    return read;
  }
  // What an upset makes of one's value and draw.
  void upset(std::size_t i, const Upset& by, double& value, double& normal) const {
    value = value * (1.0 + by.gain) + by.offset * span_[i];
    normal *= by.noise;
  }

 private:
  static constexpr double per_ma = 65535.0 / 24.0;
  static constexpr double span_counts = 16.0 * per_ma;
  std::array<double, n> low_, slope_, bend_, zero_, noise_, span_;
  std::array<std::uint16_t, n> last_{};  // of a sound wire
};

}  // namespace strandproof::sim
