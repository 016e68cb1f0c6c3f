// An Ed25519 signature of RFC 8032, section 5.1.6, as a job of many short steps: a step takes some 10,000
// instructions on a Cortex-M4, the whole some 2 million, twice that where the public key is made as well.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "firmware/crypto/crypto.hpp"
#include "firmware/crypto/sodium/multiply.h"

namespace strandproof::crypto {

class SignJob {
 public:
  static constexpr std::size_t message_max = 128;  // bytes
  using Seed = std::array<std::uint8_t, 32>;
  using PublicKey = std::array<std::uint8_t, public_key_size>;
  using Signature = std::array<std::uint8_t, signature_size>;

  // Begins; drops what was running. The message is copied; longer than message_max is a bug: it is cut there.
  // The public key of the last job is used again if the seed is the same.
  void begin(const Seed& seed, std::span<const std::uint8_t> message);
  // One step. True once the signature is there; then the job is idle.
  [[nodiscard]] bool step();
  [[nodiscard]] bool running() const { return stage_ != Stage::idle; }
  void drop();
  [[nodiscard]] const Signature& signature() const { return signature_; }
  [[nodiscard]] const PublicKey& public_key() const { return public_key_; }

 private:
  enum class Stage : std::uint8_t { idle, expand, key, nonce, point, finish };

  void expand();
  void make_nonce();
  void finish();

  Stage stage_ = Stage::idle;
  Seed seed_{};
  bool have_key_ = false;
  std::array<std::uint8_t, message_max> message_{};
  std::uint32_t message_size_ = 0;
  std::array<std::uint8_t, 64> expanded_{};  // scalar, then the prefix of the nonce
  std::array<std::uint8_t, 64> nonce_{};
  strandproof_multiply multiply_{};
  PublicKey public_key_{};
  Signature signature_{};
};

}  // namespace strandproof::crypto
