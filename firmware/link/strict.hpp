// Strict reading of a state-changing message: the fields of its .proto and no others, each at most once, in
// rising order, varints in their shortest form, nothing behind the last. A message has exactly one encoding;
// what two decoders could read differently is refused before either reads it.
#pragma once

#include <cstdint>
#include <span>

namespace strandproof::link {

struct Shape {
  std::uint32_t fields = 0;   // highest field number, at most 31
  std::uint32_t lengths = 0;  // bit n: field n is length-delimited (string, bytes, packed, message)
  std::uint32_t packed = 0;   // bit n: and it holds nothing but varints
  std::uint32_t text = 0;     // bit n: and it holds nothing but printable ASCII, 20 to 7E
};

[[nodiscard]] bool is_strict(std::span<const std::uint8_t> bytes, const Shape& shape);

// The gauge table and its four columns.
[[nodiscard]] bool is_strict_table(std::span<const std::uint8_t> bytes);

inline constexpr Shape sealed_shape{6, (1U << 5U) | (1U << 6U)};
inline constexpr Shape pair_request_shape{3, (1U << 2U) | (1U << 3U), 0, 1U << 2U};
inline constexpr Shape table_key_request_shape{2, (1U << 1U) | (1U << 2U), 0, 1U << 1U};
inline constexpr Shape clock_set_shape{1, 0};
inline constexpr Shape table_begin_shape{3, 1U << 3U};
inline constexpr Shape table_chunk_shape{2, 1U << 2U};
inline constexpr Shape table_commit_shape{2, 1U << 2U};
inline constexpr Shape table_withdraw_shape{2, 0};
inline constexpr Shape table_undo_shape{2, 0};
inline constexpr Shape instruction_shape{20, (1U << 4U) | (1U << 5U), 0, (1U << 4U) | (1U << 5U)};
inline constexpr Shape bed_entry_shape{4, 1U << 4U, 0, 1U << 4U};
inline constexpr Shape record_release_shape{3, 1U << 3U, 0, 1U << 3U};

}  // namespace strandproof::link
