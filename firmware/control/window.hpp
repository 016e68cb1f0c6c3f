// Sliding sums and straight-line fits over raw counts. The sums are integers: exact for ever, no drift, the
// same on every machine. One ring of running totals carries several window lengths at once: the sum of any
// window is the difference of two of them.
#pragma once

#include <array>
#include <cstdint>
#include <type_traits>

namespace strandproof::control {

class History {
 public:
  static constexpr std::uint32_t capacity = 512;

  // The total before the window of `capacity` samples that ends with this one.
  constexpr std::uint32_t push(std::uint16_t counts) {
    std::uint32_t& place = ring_[head_ % capacity];
    const std::uint32_t before = place;
    total_ += counts;
    place = total_;
    if (++head_ == 0) {  // after 49 days: goes on at a number with the same place and as full a ring
      head_ = capacity;
    }
    return before;
  }
  // Of all samples but the newest `back`; back < capacity. It wraps, and so only differences are used. Zero
  // before the first sample.
  [[nodiscard]] constexpr std::uint32_t total(std::uint32_t back) const {
    return ring_[(head_ - 1U - back) % capacity];
  }
  // Sum of n samples, the newest of them `back` ticks ago; n + back < capacity.
  [[nodiscard]] constexpr std::uint32_t sum(std::uint32_t back, std::uint32_t n) const {
    return total(back) - total(back + n);
  }
  // Of the newest n <= capacity samples, those that there were.
  [[nodiscard]] constexpr std::uint32_t held(std::uint32_t n) const { return head_ < n ? head_ : n; }
  [[nodiscard]] constexpr std::uint32_t pushed() const { return head_; }

 private:
  std::array<std::uint32_t, capacity> ring_{};
  std::uint32_t total_ = 0;
  std::uint32_t head_ = 0;
};

// 0, which is no current at all, before the first sample. A full window divides by a constant: where that is
// a power of two the compiler makes a multiplication of it, with the same bits.
template <std::uint32_t length>
[[nodiscard]] inline float mean_of(std::uint32_t sum, std::uint32_t held) {
  if (held == length) {
    return static_cast<float>(sum) / static_cast<float>(length);
  }
  return held == 0 ? 0.0F : static_cast<float>(sum) / static_cast<float>(held);
}

struct Line {
  float counts = 0.0F;  // at the newest sample
  float counts_per_tick = 0.0F;
  std::uint32_t samples = 0;
};

// From the sum and the first moment of n samples at positions 0 (oldest) to n - 1. n: a number, or an
// integral_constant where the compiler is to know it.
template <class Integer, class Number>
[[nodiscard]] inline Line line_through(std::uint32_t sum, Integer moment, float mean, Number n) {
  const std::uint32_t samples = n;
  // Twice the centred moment is an integer: no cancellation in float.
  const Integer twice = 2 * moment - (static_cast<Integer>(samples) - 1) * static_cast<Integer>(sum);
  const float nf = static_cast<float>(samples);
  const float slope = samples < 2 ? 0.0F : static_cast<float>(twice) * (6.0F / (nf * (nf * nf - 1.0F)));
  return {.counts = mean + slope * 0.5F * static_cast<float>(samples - 1U),
          .counts_per_tick = slope,
          .samples = samples};
}

// Over the newest `length` samples, from their running totals: for what is seldom asked. A sample counts in
// as many totals as its position is from the end, so that the moment is n totals of now less the sum of all.
template <std::uint32_t length>
[[nodiscard]] inline Line line_over(const History& h) {
  static_assert(length <= 180, "the moment fits into 32 bits");
  const std::uint32_t n = h.held(length);
  std::uint32_t moment = n * h.total(0);
  for (std::uint32_t back = 0; back < n; ++back) {
    moment -= h.total(back);
  }
  const std::uint32_t sum = h.sum(0, n);
  return line_through(sum, static_cast<std::int32_t>(moment), mean_of<length>(sum, n), n);
}

// Sum and first moment of the newest `length` samples since the last restart, kept up in constant time.
template <std::uint32_t length>
class LineFit {
 public:
  // After History::push of `counts`. `before`: the total before the window of `length` samples that ends now.
  constexpr void update(std::uint16_t counts, std::uint32_t total, std::uint32_t before) {
    // Positions 0 (oldest) to n - 1 (newest). A full window drops its oldest, which shifts all the others
    // down by one: less the sum without the newest, and the newest at the end of it.
    if (filled_ == length) {
      sum_ = total - before;
      moment_ += static_cast<Integer>(length) * counts - static_cast<Integer>(sum_);
    } else {
      sum_ += counts;
      moment_ += static_cast<Integer>(filled_) * counts;
      ++filled_;
    }
  }
  constexpr void restart() { sum_ = 0, moment_ = 0, filled_ = 0; }

  [[nodiscard]] constexpr std::uint32_t filled() const { return filled_; }
  [[nodiscard]] float mean() const { return mean_of<length>(sum_, filled_); }
  [[nodiscard]] Line line() const {
    return filled_ == length  // as nearly always
               ? line_through(sum_, moment_, mean(), std::integral_constant<std::uint32_t, length>{})
               : line_through(sum_, moment_, mean(), filled_);
  }

 private:
  // Twice the moment is below length * (length - 1) * 65536.
  using Integer = std::conditional_t<length <= 180, std::int32_t, std::int64_t>;
  static_assert(length <= History::capacity);
  std::uint32_t filled_ = 0;
  std::uint32_t sum_ = 0;
  Integer moment_ = 0;
};

}  // namespace strandproof::control
