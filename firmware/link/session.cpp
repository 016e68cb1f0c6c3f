#include "firmware/link/session.hpp"

#include <pb_encode.h>

#include <algorithm>
#include <array>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/codec.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;

bool sent_by_a_jack(FrameType t) {
  return t == FrameType::identity || t == FrameType::pair_reply || t == FrameType::reply ||
         t == FrameType::status || t == FrameType::telemetry || t == FrameType::log_record ||
         t == FrameType::table_key_reply || t == FrameType::tables || t == FrameType::table_bytes;
}

}  // namespace

void Session::start(std::uint32_t boot, const Pairing& stored) {
  boot_ = boot;
  pairing_ = stored;
  session_ = boot << 16U;  // never the number of a session before this boot
}

Session::Counters Session::counters(units::Ticks now) const {
  return {.frames_bad = decoder_.counters().bad,
          .dropped_bytes = decoder_.counters().dropped_bytes,
          .tags_bad = tags_bad_,
          .blocked_ms = blocked_until_ > now ? static_cast<std::uint32_t>(blocked_until_ - now) : 0};
}

void Session::poll(units::Ticks now) {
  lapse_questions(now);
  for (std::size_t i = 0; i < bytes_per_tick; ++i) {
    std::uint8_t byte = 0;
    if (serial_.read({&byte, 1}) == 0) {
      break;
    }
    if (decoder_.push(byte)) {
      handle(decoder_.frame(), now);
      return;  // one frame a tick
    }
  }
  serve_telemetry(now);  // before the log, which takes what is left of the line
  serve_log();
}

void Session::handle(const proto::Frame& f, units::Ticks now) {
  const bool identify = f.header.type == FrameType::identify;
  if (sent_by_a_jack(f.header.type) ||
      (f.header.device != device_.jack_serial && !(identify && f.header.device == 0))) {
    return;  // an echo, or for somebody else on the line: an answer could start a quarrel without end
  }
  if (identify) {
    on_identify(f.payload, now);
    return;
  }
  if (f.header.session != session_ || !opened_) {
    send_reply(0, Code::other_session, 0);
    return;
  }
  switch (f.header.type) {
    case FrameType::pair_request:
      on_pair_request(f.payload, now);
      return;
    case FrameType::sealed:
      on_sealed(f, now);
      return;
    case FrameType::status_get:
      send_status(now);
      return;
    case FrameType::telemetry_set:
      on_telemetry_set(f.payload);
      return;
    case FrameType::log_get:
      on_log_get(f.payload);
      return;
    case FrameType::table_key_request:
      on_table_key_request(f.payload, now);
      return;
    case FrameType::tables_get:
      send_tables();
      return;
    case FrameType::table_read:
      on_table_read(f.payload);
      return;
    default:
      send_reply(0, Code::malformed, 0);
      return;
  }
}

void Session::on_identify(Bytes payload, units::Ticks now) {
  strandproof_wire_Identify in = strandproof_wire_Identify_init_zero;
  if (!decode(payload, strandproof_wire_Identify_fields, in)) {
    send_reply(0, Code::malformed, 0);
    return;
  }
  if (in.protocol_major != proto::protocol_major) {
    send_reply(0, Code::other_major, 0);
    return;
  }
  open_session();
  strandproof_wire_Identity out = strandproof_wire_Identity_init_zero;
  handler_.fill(out);
  out.protocol_major = proto::protocol_major;
  out.protocol_minor = proto::protocol_minor;
  out.boot = boot_;
  out.now_ms = now;
  out.nonce.size = static_cast<pb_size_t>(nonce_.size());
  std::copy(nonce_.begin(), nonce_.end(), out.nonce.bytes);
  out.paired = paired_with(in.host_id);
  out.last_counter = last_counter_;
  send(FrameType::identity, strandproof_wire_Identity_fields, &out);
}

// Its nonce is new as long as the pair of boot and session number is: whatever was sealed for another session
// has a wrong tag in this one.
void Session::open_session() {
  refuse_pairing();  // its digits were those of the session before
  refuse_key();
  ++session_;
  opened_ = true;
  last_counter_ = 0;
  telemetry_ms_ = 0;
  log_from_ = log_until_ = 0;
  std::array<std::uint8_t, 8> counters{};
  proto::put_u32(boot_, counters.data());
  proto::put_u32(session_, counters.data() + 4);
  crypto::HmacSha256 mac{device_.secret};
  mac.update(text("strandproof nonce"));
  mac.update(counters);
  std::array<std::uint8_t, 32> whole{};
  mac.finish(whole);
  std::copy_n(whole.begin(), nonce_.size(), nonce_.begin());
}

// ---- sending ----------------------------------------------------------------------------------------------

void Session::send_reply(std::uint32_t counter, Code code, std::uint32_t next_chunk) {
  strandproof_wire_Reply out = strandproof_wire_Reply_init_zero;
  out.counter = counter;
  out.code = static_cast<std::uint32_t>(code);
  out.next_chunk = next_chunk;
  send(FrameType::reply, strandproof_wire_Reply_fields, &out);
}

void Session::send_pair_reply(Code code) {
  strandproof_wire_PairReply out = strandproof_wire_PairReply_init_zero;
  out.code = static_cast<std::uint32_t>(code);
  out.check = check_;
  out.waiting = code == Code::none && pairing_waits();
  send(FrameType::pair_reply, strandproof_wire_PairReply_fields, &out);
}

// A full send buffer drops the frame: the host asks again, and the tick never waits.
void Session::send(FrameType type, const pb_msgdesc_t* fields, const void* message) {
  std::array<std::uint8_t, proto::payload_max> payload{};
  pb_ostream_t stream = pb_ostream_from_buffer(payload.data(), payload.size());
  if (!pb_encode(&stream, fields, message)) {
    return;
  }
  std::array<std::uint8_t, proto::frame_max> frame{};
  const std::size_t n = proto::encode_frame(
      {.type = type, .device = device_.jack_serial, .session = session_, .sequence = sequence_++},
      Bytes{payload}.first(stream.bytes_written), frame);
  if (n != 0) {
    (void)serial_.write(Bytes{frame}.first(n));
  }
}

}  // namespace strandproof::link
