#include "proto/peer/seal.hpp"

#include <sodium.h>

#include <algorithm>

#include "proto/little_endian.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::proto {
namespace {

constexpr std::string_view label = "strandproof sealed";
constexpr std::size_t tag_size = 16;

std::string tag_of(const HostKeys& keys, const SealContext& c, FrameType kind, const std::string& body) {
  std::array<std::uint8_t, 44> head{};
  put_u32(c.device, head.data());
  std::copy(c.nonce.begin(), c.nonce.end(), head.begin() + 4);
  put_u32(c.counter, head.data() + 20);
  put_u64(c.valid_until_ms, head.data() + 24);
  put_u64(keys.host_id, head.data() + 32);
  put_u32(static_cast<std::uint32_t>(kind), head.data() + 40);
  crypto_auth_hmacsha256_state state;
  const Key key = seal_key(keys.key);
  crypto_auth_hmacsha256_init(&state, key.data(), key.size());
  const auto add = [&state](const void* bytes, std::size_t n) {
    crypto_auth_hmacsha256_update(&state, static_cast<const std::uint8_t*>(bytes), n);
  };
  add(label.data(), label.size());
  add(head.data(), head.size());
  add(body.data(), body.size());
  Key whole{};
  crypto_auth_hmacsha256_final(&state, whole.data());
  return {whole.begin(), whole.begin() + tag_size};
}

}  // namespace

std::string seal(const HostKeys& keys, const SealContext& context, FrameType kind, const std::string& body) {
  wire::Sealed sealed;
  sealed.set_counter(context.counter);
  sealed.set_valid_until_ms(context.valid_until_ms);
  sealed.set_host_id(keys.host_id);
  sealed.set_kind(static_cast<std::uint32_t>(kind));
  sealed.set_body(body);
  sealed.set_tag(tag_of(keys, context, kind, body));
  return sealed.SerializeAsString();
}

}  // namespace strandproof::proto
