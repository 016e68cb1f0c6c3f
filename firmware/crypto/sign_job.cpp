#include "firmware/crypto/sign_job.hpp"

#include <algorithm>

namespace strandproof::crypto {

void SignJob::begin(const Seed& seed, std::span<const std::uint8_t> message) {
  have_key_ = have_key_ && seed == seed_;
  seed_ = seed;
  message_size_ = static_cast<std::uint32_t>(std::min(message.size(), message_max));
  std::copy_n(message.begin(), message_size_, message_.begin());
  stage_ = Stage::expand;
}

void SignJob::drop() {
  stage_ = Stage::idle;
  strandproof_wipe(expanded_.data(), static_cast<std::uint32_t>(expanded_.size()));
  strandproof_wipe(nonce_.data(), static_cast<std::uint32_t>(nonce_.size()));
  strandproof_wipe(&multiply_, sizeof multiply_);
}

bool SignJob::step() {
  switch (stage_) {
    case Stage::idle:
      return false;
    case Stage::expand:
      expand();
      return false;
    case Stage::key:
      if (strandproof_multiply_step(&multiply_, public_key_.data()) != 0) {
        have_key_ = true;
        stage_ = Stage::nonce;
      }
      return false;
    case Stage::nonce:
      make_nonce();
      return false;
    case Stage::point:
      if (strandproof_multiply_step(&multiply_, signature_.data()) != 0) {
        stage_ = Stage::finish;
      }
      return false;
    case Stage::finish:
      finish();
      return true;
  }
  return false;
}

void SignJob::expand() {
  strandproof_sha512(expanded_.data(), seed_.data(), static_cast<std::uint32_t>(seed_.size()), seed_.data(),
                     0, seed_.data(), 0);
  expanded_[0] &= 248U;
  expanded_[31] = static_cast<std::uint8_t>((expanded_[31] & 127U) | 64U);
  strandproof_multiply_begin(&multiply_, expanded_.data());
  stage_ = have_key_ ? Stage::nonce : Stage::key;
}

void SignJob::make_nonce() {
  strandproof_sha512(nonce_.data(), expanded_.data() + 32, 32, message_.data(), message_size_,
                     message_.data(), 0);
  strandproof_reduce(nonce_.data());
  strandproof_multiply_begin(&multiply_, nonce_.data());
  stage_ = Stage::point;
}

void SignJob::finish() {
  std::array<std::uint8_t, 64> challenge{};
  strandproof_sha512(challenge.data(), signature_.data(), 32, public_key_.data(),
                     static_cast<std::uint32_t>(public_key_.size()), message_.data(), message_size_);
  strandproof_reduce(challenge.data());
  strandproof_multiply_add(signature_.data() + 32, challenge.data(), expanded_.data(), nonce_.data());
  drop();
}

}  // namespace strandproof::crypto
