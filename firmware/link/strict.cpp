#include "firmware/link/strict.hpp"

#include <cstddef>

namespace strandproof::link {
namespace {

constexpr Shape table_shape{13, (1U << 9U) | (1U << 10U) | (1U << 11U) | (1U << 12U), 0};
constexpr Shape column_shape{2, (1U << 1U) | (1U << 2U), (1U << 1U) | (1U << 2U)};

// Reads one varint in its shortest form; false at the end of the bytes or in any longer form.
bool read_varint(std::span<const std::uint8_t> bytes, std::size_t& at, std::uint64_t& value) {
  value = 0;
  for (unsigned shift = 0; shift < 64 && at < bytes.size(); shift += 7) {
    const std::uint8_t b = bytes[at++];
    value |= static_cast<std::uint64_t>(b & 0x7FU) << shift;
    if ((b & 0x80U) == 0) {
      const bool shortest = b != 0 || shift == 0;
      return shortest && (shift < 63 || b <= 1);
    }
  }
  return false;
}

bool only_varints(std::span<const std::uint8_t> bytes) {
  std::uint64_t value = 0;
  for (std::size_t at = 0; at < bytes.size();) {
    if (!read_varint(bytes, at, value)) {
      return false;
    }
  }
  return true;
}

// Other bytes would make a record that a host's decoder may refuse to read, and a display can not show them.
bool only_text(std::span<const std::uint8_t> bytes) {
  for (const std::uint8_t b : bytes) {
    if (b < 0x20 || b > 0x7E) {
      return false;
    }
  }
  return true;
}

struct Field {
  std::uint32_t number = 0;
  std::span<const std::uint8_t> content;  // of a length-delimited field
};

bool next_field(std::span<const std::uint8_t> bytes, std::size_t& at, const Shape& shape, Field& f) {
  std::uint64_t key = 0;
  if (!read_varint(bytes, at, key) || (key >> 3U) <= f.number || (key >> 3U) > shape.fields) {
    return false;
  }
  f.number = static_cast<std::uint32_t>(key >> 3U);
  const bool delimited = ((shape.lengths >> f.number) & 1U) != 0;
  std::uint64_t value = 0;
  if ((key & 7U) != (delimited ? 2U : 0U) || !read_varint(bytes, at, value)) {
    return false;
  }
  if (delimited) {
    if (value > bytes.size() - at) {
      return false;
    }
    f.content = bytes.subspan(at, static_cast<std::size_t>(value));
    at += static_cast<std::size_t>(value);
  }
  return (((shape.packed >> f.number) & 1U) == 0 || only_varints(f.content)) &&
         (((shape.text >> f.number) & 1U) == 0 || only_text(f.content));
}

}  // namespace

bool is_strict(std::span<const std::uint8_t> bytes, const Shape& shape) {
  Field f;
  for (std::size_t at = 0; at < bytes.size();) {
    if (!next_field(bytes, at, shape, f)) {
      return false;
    }
  }
  return true;
}

bool is_strict_table(std::span<const std::uint8_t> bytes) {
  Field f;
  for (std::size_t at = 0; at < bytes.size();) {
    if (!next_field(bytes, at, table_shape, f)) {
      return false;
    }
    if (((table_shape.lengths >> f.number) & 1U) != 0 && !is_strict(f.content, column_shape)) {
      return false;
    }
  }
  return true;
}

}  // namespace strandproof::link
