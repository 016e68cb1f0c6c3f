#include "tests/target/probe.hpp"

#include <bit>
#include <cmath>

namespace strandproof::probe {

void Probe::hash(float value) {
  // A NaN's payload differs between machines: made canonical, as the firmware must.
  const std::uint32_t bits = value == value ? std::bit_cast<std::uint32_t>(value) : 0x7FC00000U;
  for (unsigned i = 0; i < 4; ++i) {
    hash_ = (hash_ ^ ((bits >> (8U * i)) & 0xFFU)) * 16777619U;
  }
}

// The operations of a tick, over values from subnormals to overflow: filter, quotient, root, running
// line fit, conversions. Sums of products are where a fused multiply-add would show.
void Probe::compute(const port::RawSample& s) {
  const float p = (static_cast<float>(s.pressure_a) * port::milliampere_per_count - 4.0F) / 16.0F *
                  device_.pressure_span.si();
  const float x =
      (static_cast<float>(s.stroke) * port::milliampere_per_count - 4.0F) / 16.0F * device_.stroke_span.si();
  filtered_ = filtered_ + 0.1F * (p - filtered_);
  fit_x_ = fit_x_ * 0.99F + x;
  fit_y_ = fit_y_ * 0.99F + filtered_;
  fit_xx_ = fit_xx_ * 0.99F + x * x;
  fit_xy_ = fit_xy_ * 0.99F + x * filtered_;
  hash(filtered_);
  hash((100.0F * fit_xy_ - fit_x_ * fit_y_) / (100.0F * fit_xx_ - fit_x_ * fit_x_));
  hash(__builtin_sqrtf(p < 0.0F ? -p : p));
  hash(x * 1.0e-38F * 1.0e-3F);  // subnormal
  hash(p * 1.0e30F * 1.0e30F);   // infinite, or NaN from 0 * infinity
  hash(p / (x - x));             // infinite or NaN
  hash(static_cast<float>(static_cast<std::int32_t>(p * 1.0e-3F)));
  hash(static_cast<float>(s.tick) * 1.0e-3F);
}

void Probe::use_flash(std::uint32_t tick) {
  const std::uint32_t page = (tick / 64U) % (flash_.size() / flash_.page_size()) * flash_.page_size();
  std::array<std::uint8_t, 8> bytes{};
  for (unsigned i = 0; i < bytes.size(); ++i) {
    bytes[i] = static_cast<std::uint8_t>(hash_ >> (8U * (i % 4U)));
  }
  const std::uint32_t address = page + (tick % 64U) * 8U;
  bool good = tick % 64U != 0 || flash_.erase(page);
  good = flash_.program(address, bytes) && good;
  // Each of these must be refused and change nothing: a raised bit, a crooked address, an end outside.
  const std::array<std::uint8_t, 4> ones{0xFF, 0xFF, 0xFF, 0xFF};
  const bool raised = flash_.program(address, ones) && hash_ != 0xFFFFFFFFU;
  const bool crooked = flash_.program(address + 2U, ones) || flash_.erase(page + 4U);
  const bool outside = flash_.program(flash_.size() - 4U, bytes) || flash_.erase(flash_.size());
  std::array<std::uint8_t, 8> back{};
  good = flash_.read(address, back) && good;
  hash(good && !raised && !crooked && !outside && back == bytes ? 1.0F : -1.0F);
}

// Every received byte goes back changed by the running hash, when there is room for it.
void Probe::echo() {
  std::array<std::uint8_t, 64> bytes{};
  const std::size_t n = serial_.read(bytes);
  for (std::size_t i = 0; i < n; ++i) {
    bytes[i] = static_cast<std::uint8_t>(bytes[i] ^ hash_);
  }
  if (n != 0) {
    hash(serial_.write({bytes.data(), n}) ? 2.0F : -2.0F);
  }
}

ProbeAnswer Probe::tick(const port::RawSample& sample) {
  if (sample.load_cell != 0) {
    obey(static_cast<Request>(sample.load_cell));
  }
  compute(sample);
  use_flash(sample.tick);
  echo();
  return {static_cast<std::uint8_t>(hash_), static_cast<std::uint8_t>(hash_ >> 8U),
          static_cast<std::uint8_t>(hash_ >> 16U), static_cast<std::uint8_t>(hash_ >> 24U)};
}

}  // namespace strandproof::probe
