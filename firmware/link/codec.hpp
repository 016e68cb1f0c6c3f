// From bytes to nanopb's messages: tolerant for what is only read, strict for what changes something.
#pragma once

#include <pb_decode.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

#include "firmware/link/strict.hpp"

namespace strandproof::link {

using Bytes = std::span<const std::uint8_t>;

// The label that a MAC begins with, without a closing zero.
inline Bytes text(std::string_view s) {
  return {reinterpret_cast<const std::uint8_t*>(s.data()), s.size()};
}

// False, and `to` untouched, unless `from` has exactly as many bytes.
template <class Field, std::size_t N>
[[nodiscard]] bool copy_exactly(const Field& from, std::array<std::uint8_t, N>& to) {
  if (from.size != N) {
    return false;
  }
  std::copy_n(from.bytes, N, to.begin());
  return true;
}

template <class Message>
[[nodiscard]] bool decode(Bytes bytes, const pb_msgdesc_t* fields, Message& into) {
  pb_istream_t stream = pb_istream_from_buffer(bytes.data(), bytes.size());
  return pb_decode(&stream, fields, &into);
}

template <class Message>
[[nodiscard]] bool decode_strict(Bytes bytes, const Shape& shape, const pb_msgdesc_t* fields, Message& into) {
  return is_strict(bytes, shape) && decode(bytes, fields, into);
}

}  // namespace strandproof::link
