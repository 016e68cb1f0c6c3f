#include "host-tool/proof/chain.hpp"

#include <sodium.h>

#include <algorithm>
#include <string_view>

#include "proto/little_endian.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::proof {
namespace {

constexpr std::string_view seal_head{"\x7A\x38", 2};  // field 15 of a Record, 56 bytes
constexpr char checkpoint_mark = '\x1A';              // field 3

std::string u32(std::uint32_t v) {
  std::string s(4, '\0');
  proto::put_u32(v, reinterpret_cast<std::uint8_t*>(s.data()));
  return s;
}
std::string u64(std::uint64_t v) {
  std::string s(8, '\0');
  proto::put_u64(v, reinterpret_cast<std::uint8_t*>(s.data()));
  return s;
}

template <std::size_t N>
std::string_view view(const std::array<std::uint8_t, N>& a) {
  return {reinterpret_cast<const char*>(a.data()), N};
}

proto::Bytes bytes(std::string_view s) {
  return {reinterpret_cast<const std::uint8_t*>(s.data()), s.size()};
}

template <std::size_t N>
bool take(const std::string& from, std::array<std::uint8_t, N>& to) {
  if (from.size() != N) {
    return false;
  }
  std::copy(from.begin(), from.end(), reinterpret_cast<char*>(to.data()));
  return true;
}

}  // namespace

std::optional<FoundSeal> seal_of(const std::string& body) {
  if (body.size() < seal_size) {
    return {};
  }
  const auto* at = reinterpret_cast<const std::uint8_t*>(body.data() + body.size() - seal_size);
  FoundSeal found;
  found.whole = std::string_view{body}.substr(body.size() - seal_size, seal_head.size()) == seal_head;
  found.seal.epoch = proto::get_u32(at + 2);
  found.seal.gap = proto::get_u32(at + 6);
  std::copy_n(at + 10, found.seal.link.size(), found.seal.link.begin());
  std::copy_n(at + 42, found.seal.tag.size(), found.seal.tag.begin());
  return found;
}

Link link_of(std::uint32_t device, const Record& record, std::uint32_t epoch, std::uint32_t gap,
             const Before& before) {
  const auto content = std::string_view{record.body}.substr(0, record.body.size() - seal_size);
  std::string in = "strandproof link";
  in += u32(device) + u64(record.sequence) + u32(record.boot) + u64(record.tick_ms) + u32(epoch) + u32(gap);
  in += u32(static_cast<std::uint32_t>(content.size()));
  in.append(view(before.link)).append(view(before.tag)).append(content);
  return proto::sha256(bytes(in));
}

proto::Key paired_secret(const proto::Key& chain_key, std::uint32_t device, std::uint32_t epoch) {
  return proto::hmac_sha256(chain_key, bytes("strandproof chain" + u32(device) + u32(epoch)));
}

proto::Key next_secret(const proto::Key& secret) {
  return proto::hmac_sha256(secret, bytes("strandproof next"));
}

proto::Key tag_key(const proto::Key& secret) {
  return proto::hmac_sha256(secret, bytes("strandproof tag"));
}

Tag tag_of(const proto::Key& tag_key, const Link& link) {
  const proto::Key whole = proto::hmac_sha256(tag_key, link);
  Tag tag{};
  std::copy_n(whole.begin(), tag.size(), tag.begin());
  return tag;
}

bool is_checkpoint(const std::string& body) {
  return !body.empty() && body.front() == checkpoint_mark;
}

std::optional<Checkpoint> checkpoint_of(const std::string& body) {
  wire::Record r;
  if (!is_checkpoint(body) || !r.ParseFromString(body) || !r.has_checkpoint()) {
    return {};
  }
  const wire::Checkpoint& c = r.checkpoint();
  Checkpoint out{.device = c.device(),
                 .epoch = c.epoch(),
                 .covers = c.covers(),
                 .next_host = c.next_host(),
                 .utc_s = c.utc_s(),
                 .clock_quality = c.clock_quality()};
  if (!take(c.link(), out.link) || !take(c.public_key(), out.public_key) ||
      !take(c.signature(), out.signature)) {
    return {};
  }
  return out;
}

std::string signed_text(const Checkpoint& c) {
  std::string text = "strandproof checkpoint";
  text += u32(c.device) + u32(c.epoch) + u64(c.covers);
  text.append(view(c.link));
  return text + u64(c.next_host) + u64(c.utc_s) + u32(c.clock_quality);
}

bool signed_by(const proto::Key& key, const std::string& text, const proto::Signature& signature) {
  return crypto_sign_verify_detached(signature.data(), reinterpret_cast<const std::uint8_t*>(text.data()),
                                     text.size(), key.data()) == 0;
}

bool signature_good(const Checkpoint& c) {
  return signed_by(c.public_key, signed_text(c), c.signature);
}

}  // namespace strandproof::host::proof
