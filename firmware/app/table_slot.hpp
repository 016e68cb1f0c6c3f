// How a gauge table lies in its cell, and how bytes of a fixed length go into a message.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/handler.hpp"
#include "firmware/link/table_transfer.hpp"
#include "firmware/record/cells.hpp"

namespace strandproof::app {

// A cell holds the signature, the fingerprint of the key, then the signed bytes.
inline constexpr std::size_t fingerprint_at = crypto::signature_size;
inline constexpr std::size_t bytes_at = fingerprint_at + sizeof(link::Fingerprint);
inline constexpr std::size_t slot_max = bytes_at + link::TableTransfer::table_max;
static_assert(slot_max <= record::cell_size_max);

template <class Field, std::size_t N>
void put_bytes(const std::array<std::uint8_t, N>& from, Field& to) {
  to.size = static_cast<pb_size_t>(N);
  std::copy(from.begin(), from.end(), to.bytes);
}

}  // namespace strandproof::app
