// Quantities of the firmware: one float in SI base units behind a type, so that a force can not be
// handed over where a pressure is meant. No conversions from or to bare numbers but the named ones.
//
// The comparisons are written out: a defaulted <=> on a float makes g++ 12 emit twice the code.
// Every comparison with a NaN is false; a limit is therefore tested as !(x <= limit), so NaN trips.
#pragma once

#include <cstdint>

namespace strandproof::units {

template <class Tag>
class Quantity {
 public:
  constexpr Quantity() = default;
  // si: the value in the SI base unit of the quantity (Pa, N, m, N/m, m3/s).
  static constexpr Quantity from_si(float si) { return Quantity{si}; }
  [[nodiscard]] constexpr float si() const { return si_; }

  constexpr Quantity& operator+=(Quantity o) { return si_ += o.si_, *this; }
  constexpr Quantity& operator-=(Quantity o) { return si_ -= o.si_, *this; }

  friend constexpr Quantity operator+(Quantity a, Quantity b) { return Quantity{a.si_ + b.si_}; }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return Quantity{a.si_ - b.si_}; }
  friend constexpr Quantity operator-(Quantity a) { return Quantity{-a.si_}; }
  friend constexpr Quantity operator*(Quantity a, float s) { return Quantity{a.si_ * s}; }
  friend constexpr Quantity operator*(float s, Quantity a) { return Quantity{s * a.si_}; }
  friend constexpr Quantity operator/(Quantity a, float s) { return Quantity{a.si_ / s}; }
  friend constexpr float operator/(Quantity a, Quantity b) { return a.si_ / b.si_; }
  friend constexpr bool operator<(Quantity a, Quantity b) { return a.si_ < b.si_; }
  friend constexpr bool operator<=(Quantity a, Quantity b) { return a.si_ <= b.si_; }
  friend constexpr bool operator>(Quantity a, Quantity b) { return a.si_ > b.si_; }
  friend constexpr bool operator>=(Quantity a, Quantity b) { return a.si_ >= b.si_; }
  friend constexpr bool operator==(Quantity a, Quantity b) { return a.si_ == b.si_; }

 private:
  constexpr explicit Quantity(float si) : si_{si} {}
  float si_ = 0.0F;
};

using Pressure = Quantity<struct PascalTag>;           // Pa
using Force = Quantity<struct NewtonTag>;              // N
using Length = Quantity<struct MetreTag>;              // m
using Stiffness = Quantity<struct NewtonPerMetreTag>;  // N/m
using Flow = Quantity<struct CubicMetrePerSecondTag>;  // m3/s

constexpr Force operator*(Stiffness k, Length x) {
  return Force::from_si(k.si() * x.si());
}
constexpr Force operator*(Length x, Stiffness k) {
  return k * x;
}
constexpr Length operator/(Force f, Stiffness k) {
  return Length::from_si(f.si() / k.si());
}
constexpr Stiffness operator/(Force f, Length x) {
  return Stiffness::from_si(f.si() / x.si());
}

template <class Tag>
constexpr bool is_finite(Quantity<Tag> q) {
  const float v = q.si();
  return v - v == 0.0F;  // false for NaN and for both infinities
}

template <class Tag>
constexpr Quantity<Tag> abs(Quantity<Tag> q) {
  return q.si() < 0.0F ? -q : q;
}

inline namespace literals {
constexpr Pressure operator""_MPa(long double v) {
  return Pressure::from_si(static_cast<float>(v * 1e6L));
}
constexpr Force operator""_kN(long double v) {
  return Force::from_si(static_cast<float>(v * 1e3L));
}
constexpr Force operator""_N(long double v) {
  return Force::from_si(static_cast<float>(v));
}
constexpr Length operator""_mm(long double v) {
  return Length::from_si(static_cast<float>(v * 1e-3L));
}
}  // namespace literals

// To an integer, toward zero. What does not fit, and NaN, has one value on every machine: the conversion of
// the language is undefined there, and x86-64 and the Cortex-M4F differ.
[[nodiscard]] constexpr std::int32_t to_integer(float v) {
  return v > -2.0e9F && v < 2.0e9F ? static_cast<std::int32_t>(v) : INT32_MIN;
}

// Time is a count of 1 kHz ticks since this boot. 64 bits never wrap in the life of a jack.
using Ticks = std::uint64_t;
inline constexpr Ticks ticks_per_second = 1000;
inline constexpr float seconds_per_tick = 1.0e-3F;

}  // namespace strandproof::units
