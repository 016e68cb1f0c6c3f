#include "firmware/record/chain.hpp"

#include <algorithm>
#include <initializer_list>
#include <string_view>

#include "proto/little_endian.hpp"

namespace strandproof::record {
namespace {

using Bytes = std::span<const std::uint8_t>;

constexpr std::size_t field_head = 2;  // tag and length of field 15 of a Record
constexpr std::uint8_t field_tag = 0x7A;
constexpr std::uint8_t field_length = seal_size - field_head;
constexpr std::size_t epoch_at = field_head;
constexpr std::size_t gap_at = epoch_at + 4;
constexpr std::size_t link_at = gap_at + 4;
constexpr std::size_t tag_at = link_at + crypto::digest_size;
static_assert(tag_at + sizeof(Tag) == seal_size);

Bytes text(std::string_view s) {
  return {reinterpret_cast<const std::uint8_t*>(s.data()), s.size()};
}

Secret hmac(Bytes key, std::initializer_list<Bytes> parts) {
  crypto::HmacSha256 mac{key};
  for (const Bytes part : parts) {
    mac.update(part);
  }
  Secret whole{};
  mac.finish(whole);
  return whole;
}

std::array<std::uint8_t, 4> bytes_of(std::uint32_t v) {
  std::array<std::uint8_t, 4> b{};
  proto::put_u32(v, b.data());
  return b;
}

}  // namespace

void put_seal(const Seal& seal, std::span<std::uint8_t, seal_size> to) {
  to[0] = field_tag;
  to[1] = field_length;
  proto::put_u32(seal.epoch, &to[epoch_at]);
  proto::put_u32(seal.gap, &to[gap_at]);
  std::copy(seal.link.begin(), seal.link.end(), to.begin() + link_at);
  std::copy(seal.tag.begin(), seal.tag.end(), to.begin() + tag_at);
}

bool get_seal(Bytes body, Seal& seal) {
  if (body.size() < seal_size) {
    return false;
  }
  const Bytes from = body.last(seal_size);
  if (from[0] != field_tag || from[1] != field_length) {
    return false;
  }
  seal.epoch = proto::get_u32(&from[epoch_at]);
  seal.gap = proto::get_u32(&from[gap_at]);
  std::copy_n(from.begin() + link_at, seal.link.size(), seal.link.begin());
  std::copy_n(from.begin() + tag_at, seal.tag.size(), seal.tag.begin());
  return true;
}

Secret next_secret(const Secret& secret) {
  return hmac(secret, {text("strandproof next")});
}

Secret unpaired_secret(std::span<const std::uint8_t, 32> of_jack, std::uint32_t epoch) {
  return hmac(of_jack, {text("strandproof unpaired"), bytes_of(epoch)});
}

Secret paired_secret(const Secret& chain_key, std::uint32_t device, std::uint32_t epoch) {
  return hmac(chain_key, {text("strandproof chain"), bytes_of(device), bytes_of(epoch)});
}

Secret tag_key(const Secret& secret) {
  return hmac(secret, {text("strandproof tag")});
}

Tag tag_of(const crypto::HmacSha256& keyed, const Link& link) {
  crypto::HmacSha256 mac = keyed;
  mac.update(link);
  Secret whole{};
  mac.finish(whole);
  Tag tag{};
  std::copy_n(whole.begin(), tag.size(), tag.begin());
  return tag;
}

void LinkJob::begin(const Record& record, const ChainPoint& before, Bytes content) {
  constexpr std::size_t head_size = 36;
  std::array<std::uint8_t, head_size> head{};
  proto::put_u32(record.device, head.data());
  proto::put_u64(record.sequence, head.data() + 4);
  proto::put_u32(record.boot, head.data() + 12);
  proto::put_u64(record.tick, head.data() + 16);
  proto::put_u32(record.epoch, head.data() + 24);
  proto::put_u32(before.sequence == 0 ? 0U : static_cast<std::uint32_t>(record.sequence - before.sequence),
                 head.data() + 28);
  proto::put_u32(static_cast<std::uint32_t>(content.size()), head.data() + 32);
  hash_ = {};
  hash_.update(text("strandproof link"));
  hash_.update(head);
  hash_.update(before.link);
  hash_.update(before.tag);
  left_ = content;
}

bool LinkJob::step() {
  const Bytes piece = left_.first(std::min(piece_max, left_.size()));
  hash_.update(piece);
  left_ = left_.subspan(piece.size());
  if (!left_.empty()) {
    return false;
  }
  hash_.finish(link_);
  return true;
}

}  // namespace strandproof::record
