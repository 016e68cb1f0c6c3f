// Pairing: a host asks, a person at the pendant answers (SPEC.md 6).
#include <algorithm>
#include <array>
#include <string_view>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/codec.hpp"
#include "firmware/link/session.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::link {
namespace {

// Six digits that both ends show before the person confirms: whoever put another key into the cable shows
// other digits.
std::uint32_t check_digits(const Pairing& p, std::uint32_t device, Bytes nonce) {
  crypto::Sha256 hash;
  std::array<std::uint8_t, 4> serial{};
  proto::put_u32(device, serial.data());
  hash.update(p.key);
  hash.update(serial);
  hash.update(nonce);
  std::array<std::uint8_t, 32> digest{};
  hash.finish(digest);
  return 100'000U + proto::get_u32(digest.data()) % 900'000U;
}

std::array<std::uint8_t, 32> made_from(const std::array<std::uint8_t, 32>& key, std::string_view purpose) {
  crypto::HmacSha256 mac{key};
  mac.update(text(purpose));
  std::array<std::uint8_t, 32> made{};
  mac.finish(made);
  return made;
}

Pairing kept_of(const Pairing& asked) {
  return {.host_id = asked.host_id, .key = made_from(asked.key, "strandproof seal key")};
}

}  // namespace

void Session::on_pair_request(Bytes payload, units::Ticks now) {
  strandproof_wire_PairRequest in = strandproof_wire_PairRequest_init_zero;
  Pairing p;
  if (!decode_strict(payload, pair_request_shape, strandproof_wire_PairRequest_fields, in) ||
      in.host_id == 0 || !copy_exactly(in.key, p.key)) {
    send_pair_reply(Code::malformed);
    return;
  }
  p.host_id = in.host_id;
  check_ = check_digits(p, device_.jack_serial, nonce_);
  send_pair_reply(ask_the_person(p, now));
}

// A host asks again until it has the answer; what it gets is the state of its question.
Code Session::ask_the_person(const Pairing& p, units::Ticks now) {
  if (pairing_waits() || key_waits()) {
    return pairing_waits() && p == asked_ ? Code::none : Code::busy;
  }
  if (kept_of(p) == pairing_) {
    return Code::none;
  }
  if (now < blocked_until_) {
    return Code::blocked;
  }
  if (!handler_.pairing_open()) {
    return p == asked_ ? Code::pairing_lapsed : Code::pairing_closed;
  }
  asked_ = p;
  pairing_until_ = now + pairing_ticks;
  handler_.show_pairing(check_);
  return Code::none;
}

void Session::confirm_pairing() {
  if (!pairing_waits()) {
    return;
  }
  const Pairing kept = kept_of(asked_);
  const bool stored = handler_.store_pairing(kept, made_from(asked_.key, "strandproof chain key"));
  if (stored) {
    pairing_ = kept;
    forged_ = 0;
  }
  asked_.key = {};  // what it was made into leads back to it no more
  pairing_until_ = 0;
  handler_.show_pairing(0);
  send_pair_reply(stored ? Code::none : Code::store_fault);
}

void Session::refuse_pairing() {
  if (!pairing_waits()) {
    return;
  }
  pairing_until_ = 0;
  handler_.show_pairing(0);
  send_pair_reply(Code::pairing_lapsed);
}

void Session::end_lapsed(units::Ticks now) {
  if (pairing_waits() && now >= pairing_until_) {
    refuse_pairing();
  }
  if (key_waits() && now >= key_until_) {
    refuse_key();
  }
}

}  // namespace strandproof::link
