#include "proto/peer/measured.hpp"

#include <array>
#include <cstdio>

namespace strandproof::proto {
namespace {

enum class Cause : std::uint32_t {
#define CAUSE(number, id, what, remedy) id = number,
#include "proto/catalogue.def"
};

constexpr double span_counts = 65535.0 * 16.0 / 24.0;  // sim/README.md, channel.hpp: 24 mA at the top

std::string text(const char* pattern, double value) {
  std::array<char, 64> letters{};
  std::snprintf(letters.data(), letters.size(), pattern, value);
  return letters.data();
}

}  // namespace

std::string measured(std::uint32_t cause, std::int64_t value) {
  switch (static_cast<Cause>(cause)) {
    case Cause::h01_over_force:
    case Cause::settle_fall:
    case Cause::h53_force_lost:
      return text("%.2f kN", static_cast<double>(value) / 1e3);
    case Cause::h02_dead_headed:
      return std::to_string(value) + " mbar";
    case Cause::elongation_high:
    case Cause::elongation_low:
    case Cause::stroke_end:
    case Cause::slack_limit:
      return text("%.1f mm", static_cast<double>(value) / 1e3);
    case Cause::h11_no_motion:
    case Cause::h16_stop_circuit:
    case Cause::h17_enable_held:
    case Cause::phase_time:
      return std::to_string(value) + " ms";
    case Cause::h04_signal_lost:
      return value == 1 ? "pressure A" : value == 2 ? "pressure B" : value == 3 ? "stroke" : "any";
    default:  // counts of the converter, of which 4 to 20 mA are the range of a sensor
      return text("%.2f %% of the sensor's range", 100.0 * static_cast<double>(value) / span_counts);
  }
}

}  // namespace strandproof::proto
