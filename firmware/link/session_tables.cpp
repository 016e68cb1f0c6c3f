// Table keys: a host asks, a person at the pendant answers; and the reads of the two slots (SPEC.md 6).
#include <algorithm>
#include <array>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/codec.hpp"
#include "firmware/link/session.hpp"

namespace strandproof::link {

using proto::FrameType;

Fingerprint fingerprint_of(std::span<const std::uint8_t, 32> key) {
  std::array<std::uint8_t, crypto::digest_size> digest{};
  crypto::sha256(key, digest);
  Fingerprint first{};
  std::copy_n(digest.begin(), first.size(), first.begin());
  return first;
}

void Session::on_table_key_request(Bytes payload, units::Ticks now) {
  strandproof_wire_TableKeyRequest in = strandproof_wire_TableKeyRequest_init_zero;
  TableKey k;
  const bool good =
      decode_strict(payload, table_key_request_shape, strandproof_wire_TableKeyRequest_fields, in) &&
      in.name[0] != '\0' && copy_exactly(in.key, k.key);
  std::copy_n(in.name, k.name.size(), k.name.begin());
  send_key_reply(good ? ask_about_key(k, now) : Code::malformed, k);
}

// A host asks again until it has the answer; what it gets is the state of its question.
Code Session::ask_about_key(const TableKey& k, units::Ticks now) {
  if (key_waits() || pairing_waits()) {
    return key_waits() && k == asked_key_ ? Code::none : Code::busy;
  }
  if (handler_.key_enrolled(k)) {
    return Code::none;
  }
  if (now < blocked_until_) {
    return Code::blocked;
  }
  if (const Code code = handler_.may_enrol(); code != Code::none) {
    if (code == Code::key_closed && k == asked_key_) {
      return Code::key_lapsed;  // the person did not answer; what was asked is not asked anew
    }
    handler_.note_refused(static_cast<std::uint32_t>(FrameType::table_key_request), code);
    return code;
  }
  asked_key_ = k;
  key_until_ = now + pairing_ticks;
  handler_.show_key(&asked_key_);
  return Code::none;
}

void Session::confirm_key() {
  if (!key_waits()) {
    return;
  }
  key_until_ = 0;
  const bool stored = handler_.enrol_key(asked_key_);
  handler_.show_key(nullptr);
  send_key_reply(stored ? Code::none : Code::store_fault, asked_key_);
}

void Session::refuse_key() {
  if (!key_waits()) {
    return;
  }
  key_until_ = 0;
  handler_.show_key(nullptr);
  send_key_reply(Code::key_lapsed, asked_key_);
}

void Session::send_key_reply(Code code, const TableKey& k) {
  strandproof_wire_TableKeyReply out = strandproof_wire_TableKeyReply_init_zero;
  out.code = static_cast<std::uint32_t>(code);
  out.waiting = code == Code::none && key_waits();
  const Fingerprint f = fingerprint_of(k.key);
  out.fingerprint.size = static_cast<pb_size_t>(f.size());
  std::copy(f.begin(), f.end(), out.fingerprint.bytes);
  send(FrameType::table_key_reply, strandproof_wire_TableKeyReply_fields, &out);
}

void Session::send_tables() {
  strandproof_wire_Tables out = strandproof_wire_Tables_init_zero;
  handler_.fill(out);
  send(FrameType::tables, strandproof_wire_Tables_fields, &out);
}

void Session::on_table_read(Bytes payload) {
  strandproof_wire_TableRead in = strandproof_wire_TableRead_init_zero;
  strandproof_wire_TableBytes out = strandproof_wire_TableBytes_init_zero;
  Code code = Code::malformed;
  if (decode(payload, strandproof_wire_TableRead_fields, in)) {
    code = handler_.table_bytes(in, out);
  }
  if (code != Code::none) {
    send_reply(0, code, 0);
    return;
  }
  send(FrameType::table_bytes, strandproof_wire_TableBytes_fields, &out);
}

}  // namespace strandproof::link
