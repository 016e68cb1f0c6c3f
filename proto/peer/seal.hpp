// The tag of a state-changing message: HMAC-SHA-256 over what SPEC.md, Sealed lists, first 16 bytes.
#pragma once

#include <cstdint>
#include <string>

#include "proto/frame.hpp"
#include "proto/peer/keys.hpp"

namespace strandproof::proto {

struct SealContext {
  std::uint32_t device = 0;
  Bytes nonce;  // 16 bytes, of the session
  std::uint32_t counter = 0;
  std::uint64_t valid_until_ms = 0;
};

// The encoded wire::Sealed around an encoded body.
[[nodiscard]] std::string seal(const HostKeys& keys, const SealContext& context, FrameType kind,
                               const std::string& body);

}  // namespace strandproof::proto
