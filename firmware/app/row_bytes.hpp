// Rows of whole numbers in few bytes: in each column the difference to the row before, the first row's to
// zero, as a zigzag varint (proto/SPEC.md, section 12). Differences are taken modulo 2^32: every value fits.
#pragma once

#include <array>
#include <cstdint>
#include <span>

namespace strandproof::app {

template <unsigned Columns, unsigned Size>
class RowBytes {
 public:
  using Row = std::array<std::int32_t, Columns>;
  static constexpr unsigned row_max = 5 * Columns;  // bytes of the longest row
  static_assert(row_max <= Size);

  void clear() {
    size_ = rows_ = 0;
    before_ = Row{};
  }
  // False: there may not be room for it, and nothing was put.
  [[nodiscard]] bool put(const Row& row) {
    if (size_ + row_max > Size) {
      return false;
    }
    for (unsigned i = 0; i < Columns; ++i) {
      number(static_cast<std::uint32_t>(row[i]) - static_cast<std::uint32_t>(before_[i]));
    }
    before_ = row;
    ++rows_;
    return true;
  }
  [[nodiscard]] std::span<const std::uint8_t> bytes() const { return {bytes_.data(), size_}; }
  [[nodiscard]] unsigned rows() const { return rows_; }

 private:
  void number(std::uint32_t difference) {
    std::uint32_t zigzag = difference << 1U ^ (0U - (difference >> 31U));
    for (; zigzag > 0x7FU; zigzag >>= 7U) {
      bytes_[size_++] = static_cast<std::uint8_t>(0x80U | (zigzag & 0x7FU));
    }
    bytes_[size_++] = static_cast<std::uint8_t>(zigzag);
  }

  std::array<std::uint8_t, Size> bytes_{};
  unsigned size_ = 0, rows_ = 0;
  Row before_{};
};

}  // namespace strandproof::app
