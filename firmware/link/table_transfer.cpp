#include "firmware/link/table_transfer.hpp"

#include <algorithm>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/codec.hpp"

namespace strandproof::link {

Code TableTransfer::begin(const strandproof_wire_TableBegin& b) {
  if (b.length == 0 || b.length > table_max || b.sha256.size != digest_.size()) {
    return Code::malformed;
  }
  const bool same = b.revision == revision_ && b.length == length_ &&
                    std::equal(digest_.begin(), digest_.end(), b.sha256.bytes);
  if (!same) {
    revision_ = b.revision;
    length_ = b.length;
    std::copy_n(b.sha256.bytes, digest_.size(), digest_.begin());
    have_ = 0;
  }
  return Code::none;
}

Code TableTransfer::chunk(const strandproof_wire_TableChunk& c) {
  if (c.index >= chunks()) {
    return Code::malformed;
  }
  const std::size_t from = c.index * chunk_size;
  if (c.data.size != std::min<std::size_t>(chunk_size, length_ - from)) {
    return Code::malformed;
  }
  std::copy_n(c.data.bytes, c.data.size, bytes_.begin() + static_cast<std::ptrdiff_t>(from));
  have_ |= 1U << c.index;
  return Code::none;
}

std::uint32_t TableTransfer::next_missing() const {
  std::uint32_t n = 0;
  while (n < chunks() && ((have_ >> n) & 1U) != 0) {
    ++n;
  }
  return n;
}

Code TableTransfer::commit(const strandproof_wire_TableCommit& c, Handler& handler) {
  const std::span<const std::uint8_t> whole{bytes_.data(), length_};
  std::array<std::uint8_t, 32> digest{};
  crypto::sha256(whole, digest);
  if (length_ == 0 || c.revision != revision_ || next_missing() != chunks() || digest != digest_) {
    return Code::table_incomplete;
  }
  if (c.signature.size != crypto::signature_size) {
    return Code::table_signature;
  }
  strandproof_wire_GaugeTable table = strandproof_wire_GaugeTable_init_zero;
  if (!is_strict_table(whole) || !decode(whole, strandproof_wire_GaugeTable_fields, table) ||
      table.revision != revision_) {
    return Code::malformed;
  }
  const Code code = handler.install_table(
      table, whole,
      std::span<const std::uint8_t, crypto::signature_size>{c.signature.bytes, crypto::signature_size});
  if (code == Code::none) {
    length_ = 0;
    have_ = 0;
  }
  return code;
}

}  // namespace strandproof::link
