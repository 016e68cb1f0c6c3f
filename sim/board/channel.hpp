// One 4 to 20 mA channel: span, errors, noise, the NE 43 levels and the converter.
#pragma once

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

class Channel {
 public:
  explicit Channel(const ChannelParameters& p)
      : low_{p.low},
        per_unit_{16.0 / (p.high - p.low) * (1.0 + p.gain)},
        offset_{4.0 + 16.0 * p.zero},
        noise_{16.0 * p.noise},
        per_span_{1.0 / (p.high - p.low)},
        bow_{4.0 * 16.0 * p.linearity} {}

  // The converter's counts (0 to 65535 is 0 to 24 mA) for this value. normal: a standard normal draw.
  // A sound transmitter never drives outside 3.8 to 20.5 mA (NAMUR NE 43).
  [[nodiscard]] std::uint16_t sample(double value, double normal, Wiring wiring, const Upset& upset) {
    const double span = 1.0 / per_span_;
    return sample(value * (1.0 + upset.gain) + upset.offset * span, normal * upset.noise, wiring);
  }
  [[nodiscard]] std::uint16_t sample(double value, double normal, Wiring wiring) {
    switch (wiring) {
      case Wiring::open_circuit:
        return 0;
      case Wiring::short_circuit:
        return 65535;
      case Wiring::stuck:
        return last_;
      case Wiring::sound:
        break;
    }
    const double share = (value - low_) * per_span_;
    double ma = offset_ + (value - low_) * per_unit_ + bow_ * share * (1.0 - share) + noise_ * normal;
    ma = ma < 3.8 ? 3.8 : (ma > 20.5 ? 20.5 : ma);
    // Rounded up at the low clamp: 3.8 mA itself still counts as measuring.
    last_ = static_cast<std::uint16_t>(ma * (65535.0 / 24.0) + 0.5);
    return last_;
  }

 private:
  double low_, per_unit_, offset_, noise_, per_span_, bow_;
  std::uint16_t last_ = 0;
};

}  // namespace strandproof::sim
