// Sliding straight-line fits over raw counts. The sums are integers: exact for ever, no drift, the same
// on every machine. One ring of 512 samples carries several window lengths at once.
#pragma once

#include <array>
#include <cstdint>

namespace strandproof::control {

class History {
 public:
  static constexpr std::uint32_t capacity = 512;

  constexpr void push(std::uint16_t counts) {
    ring_[head_ % capacity] = counts;
    ++head_;
  }
  // The sample `back` ticks ago, 0 is the newest; back < min(capacity, pushed()).
  [[nodiscard]] constexpr std::uint16_t ago(std::uint32_t back) const {
    return ring_[(head_ - 1U - back) % capacity];
  }
  [[nodiscard]] constexpr std::uint32_t pushed() const { return head_; }

 private:
  std::array<std::uint16_t, capacity> ring_{};
  std::uint32_t head_ = 0;  // wraps after 49 days; only differences and the modulus are used, both of 2^n
};

// Sum and first moment of the newest `length` samples, kept up in constant time.
class LineFit {
 public:
  explicit constexpr LineFit(std::uint32_t length) : length_{length} {}

  // Call before History::push of the same counts.
  constexpr void update(const History& history, std::uint16_t counts) {
    // Positions 0 (oldest) to n - 1 (newest): dropping the oldest shifts all others down by one.
    if (filled_ == length_) {
      const std::int64_t oldest = history.ago(length_ - 1U);
      sum_ -= oldest;
      moment_ -= sum_;  // sum without the oldest
      moment_ += static_cast<std::int64_t>(length_ - 1U) * counts;
    } else {
      moment_ += static_cast<std::int64_t>(filled_) * counts;
      ++filled_;
    }
    sum_ += counts;
  }
  constexpr void restart() { sum_ = moment_ = 0, filled_ = 0; }

  [[nodiscard]] constexpr bool full() const { return filled_ == length_; }
  [[nodiscard]] constexpr std::uint32_t filled() const { return filled_; }
  // 0, which is no current at all, before the first sample.
  [[nodiscard]] float mean() const {
    return filled_ == 0 ? 0.0F : static_cast<float>(sum_) / static_cast<float>(filled_);
  }
  // Counts per tick.
  [[nodiscard]] float slope() const {
    // Twice the centred moment is an integer: no cancellation in float.
    const auto n = static_cast<std::int64_t>(filled_);
    const std::int64_t twice = 2 * moment_ - (n - 1) * sum_;
    const float nf = static_cast<float>(n);
    return n < 2 ? 0.0F : 6.0F * static_cast<float>(twice) / (nf * (nf * nf - 1.0F));
  }
  // The fitted line at the newest sample.
  [[nodiscard]] float newest() const { return mean() + slope() * 0.5F * static_cast<float>(filled_ - 1U); }

 private:
  std::uint32_t length_;
  std::uint32_t filled_ = 0;
  std::int64_t sum_ = 0;
  std::int64_t moment_ = 0;
};

}  // namespace strandproof::control
