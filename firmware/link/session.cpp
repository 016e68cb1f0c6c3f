#include "firmware/link/session.hpp"

#include <pb_decode.h>
#include <pb_encode.h>

#include <algorithm>
#include <cstring>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/strict.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::link {
namespace {

using Bytes = std::span<const std::uint8_t>;
using proto::FrameType;

Bytes text(const char* s) {
  return {reinterpret_cast<const std::uint8_t*>(s), std::strlen(s)};
}

template <class Message>
bool decode(Bytes bytes, const pb_msgdesc_t* fields, Message& into) {
  pb_istream_t stream = pb_istream_from_buffer(bytes.data(), bytes.size());
  return pb_decode(&stream, fields, &into);
}

template <class Message>
bool decode_strict(Bytes bytes, const Shape& shape, const pb_msgdesc_t* fields, Message& into) {
  return is_strict(bytes, shape) && decode(bytes, fields, into);
}

bool sent_by_a_jack(FrameType t) {
  return t == FrameType::identity || t == FrameType::pair_reply || t == FrameType::reply ||
         t == FrameType::status || t == FrameType::telemetry || t == FrameType::log_record;
}

template <class Array>
bool copy_exactly(const Array& from, std::array<std::uint8_t, 32>& to) {
  if (from.size != to.size()) {
    return false;
  }
  std::copy_n(from.bytes, to.size(), to.begin());
  return true;
}

// Six digits that both ends show before the person confirms: whoever put another key into the cable shows
// other digits.
std::uint32_t check_digits(const Pairing& p, std::uint32_t device, Bytes nonce) {
  crypto::Sha256 hash;
  std::array<std::uint8_t, 4> serial{};
  proto::put_u32(device, serial.data());
  hash.update(p.key);
  hash.update(p.table_key);
  hash.update(serial);
  hash.update(nonce);
  std::array<std::uint8_t, 32> digest{};
  hash.finish(digest);
  return 100'000U + proto::get_u32(digest.data()) % 900'000U;
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
  lapse_pairing(now);
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
  serve_log();
  serve_telemetry(now);
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
  ++session_;
  opened_ = true;
  last_counter_ = 0;
  telemetry_ms_ = log_left_ = 0;
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

// ---- pairing -----------------------------------------------------------------------------------------

void Session::on_pair_request(Bytes payload, units::Ticks now) {
  strandproof_wire_PairRequest in = strandproof_wire_PairRequest_init_zero;
  Pairing p;
  if (!decode_strict(payload, pair_request_shape, strandproof_wire_PairRequest_fields, in) ||
      in.host_id == 0 || !copy_exactly(in.key, p.key) || !copy_exactly(in.table_key, p.table_key)) {
    send_pair_reply(Code::malformed);
    return;
  }
  p.host_id = in.host_id;
  check_ = check_digits(p, device_.jack_serial, nonce_);
  send_pair_reply(ask_the_person(p, now));
}

// A host asks again until it has the answer; what it gets is the state of its question.
Code Session::ask_the_person(const Pairing& p, units::Ticks now) {
  if (pairing_waits()) {
    return p == asked_ ? Code::none : Code::busy;
  }
  if (p == pairing_) {
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
  const bool stored = handler_.store_pairing(asked_);
  if (stored) {
    pairing_ = asked_;
    forged_ = 0;
  }
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

void Session::lapse_pairing(units::Ticks now) {
  if (pairing_waits() && now >= pairing_until_) {
    refuse_pairing();
  }
}

// ---- sealed messages -----------------------------------------------------------------------------------

bool Session::tag_good(const strandproof_wire_Sealed& s) const {
  std::array<std::uint8_t, 4 + 16 + 4 + 8 + 8 + 4> head{};
  proto::put_u32(device_.jack_serial, head.data());
  std::copy(nonce_.begin(), nonce_.end(), head.begin() + 4);
  proto::put_u32(s.counter, head.data() + 20);
  proto::put_u64(s.valid_until_ms, head.data() + 24);
  proto::put_u64(s.host_id, head.data() + 32);
  proto::put_u32(s.kind, head.data() + 40);
  crypto::HmacSha256 mac{pairing_.key};
  mac.update(text("strandproof sealed"));
  mac.update(head);
  mac.update({s.body.bytes, s.body.size});
  std::array<std::uint8_t, 32> tag{};
  mac.finish(tag);
  return crypto::equal_constant_time(Bytes{tag}.first(16), Bytes{s.tag.bytes, s.tag.size});
}

// Everything that must hold before the body is even looked at.
Code Session::open(const strandproof_wire_Sealed& s, units::Ticks now) {
  if (!paired_with(s.host_id)) {
    return Code::not_paired;
  }
  if (now < blocked_until_) {
    return Code::blocked;
  }
  if (!tag_good(s)) {
    count_forged(now);
    return Code::tag_wrong;
  }
  if (s.counter <= last_counter_) {
    return Code::counter_old;
  }
  if (now > s.valid_until_ms) {
    return Code::too_late;
  }
  return s.valid_until_ms - now <= validity_max ? Code::none : Code::malformed;
}

// Good tags in between do not set the count back: an honest host in the same cable gives no free tries.
void Session::count_forged(units::Ticks now) {
  ++tags_bad_;
  if (++forged_ >= forged_max) {
    blocked_until_ = now + blocked_ticks;
    forged_ = 0;
    handler_.note_forged(tags_bad_);
  }
}

void Session::on_sealed(const proto::Frame& f, units::Ticks now) {
  strandproof_wire_Sealed s = strandproof_wire_Sealed_init_zero;
  if (!decode_strict(f.payload, sealed_shape, strandproof_wire_Sealed_fields, s)) {
    send_reply(0, Code::malformed, 0);
    return;
  }
  Code code = open(s, now);
  if (code == Code::counter_old && s.counter == last_counter_ && last_counter_ != 0) {
    send_reply(last_counter_, last_code_, last_next_chunk_);  // sent again because our answer was lost
    return;
  }
  if (code == Code::none) {
    code = dispatch(s);
    last_counter_ = s.counter;
    last_code_ = code;
    last_next_chunk_ = table_.next_missing();
  }
  send_reply(s.counter, code, table_.next_missing());
}

Code Session::dispatch(const strandproof_wire_Sealed& s) {
  const Bytes body{s.body.bytes, s.body.size};
  const auto with = [&]<class M>(M message, const Shape& shape, const pb_msgdesc_t* fields, auto&& act) {
    return decode_strict(body, shape, fields, message) ? act(message) : Code::malformed;
  };
  if (s.kind > 0xFF) {
    return Code::malformed;  // the conversion below would let 256 + 32 pass for a 32
  }
  switch (static_cast<FrameType>(s.kind)) {
    case FrameType::clock_set:
      return with(strandproof_wire_ClockSet{}, clock_set_shape, strandproof_wire_ClockSet_fields,
                  [&](const auto& m) { return handler_.set_clock(m.utc_s); });
    case FrameType::pull_instruction:
      return with(strandproof_wire_PullInstruction{}, instruction_shape,
                  strandproof_wire_PullInstruction_fields,
                  [&](const auto& m) { return handler_.load_instruction(m); });
    case FrameType::bed_entry:
      return with(strandproof_wire_BedEntry{}, bed_entry_shape, strandproof_wire_BedEntry_fields,
                  [&](const auto& m) { return handler_.enter_bed(m); });
    case FrameType::record_release:
      return with(strandproof_wire_RecordRelease{}, record_release_shape,
                  strandproof_wire_RecordRelease_fields,
                  [&](const auto& m) { return handler_.release_records(m.up_to); });
    case FrameType::table_begin:
      return with(strandproof_wire_TableBegin{}, table_begin_shape, strandproof_wire_TableBegin_fields,
                  [&](const auto& m) { return table_.begin(m); });
    case FrameType::table_chunk:
      return with(strandproof_wire_TableChunk{}, table_chunk_shape, strandproof_wire_TableChunk_fields,
                  [&](const auto& m) { return table_.chunk(m); });
    case FrameType::table_commit:
      if (!handler_.at_rest()) {
        return Code::busy;
      }
      return with(strandproof_wire_TableCommit{}, table_commit_shape, strandproof_wire_TableCommit_fields,
                  [&](const auto& m) { return table_.commit(m, pairing_.table_key, handler_); });
    default:
      return Code::malformed;
  }
}

// ---- reads -----------------------------------------------------------------------------------------------

void Session::send_status(units::Ticks now) {
  strandproof_wire_Status out = strandproof_wire_Status_init_zero;
  handler_.fill(out);
  const Counters c = counters(now);
  out.now_ms = now;
  out.frames_bad = c.frames_bad;
  out.frames_dropped_bytes = c.dropped_bytes;
  out.tags_bad = c.tags_bad;
  out.link_blocked_ms = c.blocked_ms;
  send(FrameType::status, strandproof_wire_Status_fields, &out);
}

void Session::on_telemetry_set(Bytes payload) {
  strandproof_wire_TelemetrySet in = strandproof_wire_TelemetrySet_init_zero;
  if (!decode(payload, strandproof_wire_TelemetrySet_fields, in) ||
      (in.period_ms != 0 && in.period_ms < telemetry_period_min)) {
    send_reply(0, Code::malformed, 0);
    return;
  }
  telemetry_ms_ = in.period_ms;
  send_reply(0, Code::none, 0);
}

void Session::serve_telemetry(units::Ticks now) {
  if (telemetry_ms_ == 0 || now - telemetry_at_ < telemetry_ms_ || !room()) {
    return;
  }
  telemetry_at_ = now;
  strandproof_wire_Telemetry out = strandproof_wire_Telemetry_init_zero;
  handler_.fill(out);
  out.now_ms = now;
  send(FrameType::telemetry, strandproof_wire_Telemetry_fields, &out);
}

void Session::on_log_get(Bytes payload) {
  strandproof_wire_LogGet in = strandproof_wire_LogGet_init_zero;
  if (!decode(payload, strandproof_wire_LogGet_fields, in) || in.count == 0) {
    send_reply(0, Code::malformed, 0);
    return;
  }
  log_from_ = in.from;
  log_left_ = in.count;
  log_sent_ = 0;
}

// One record a tick while there is room; then a reply that says how many were sent.
void Session::serve_log() {
  if (log_left_ == 0 || !room()) {
    return;
  }
  strandproof_wire_LogRecord out = strandproof_wire_LogRecord_init_zero;
  if (!handler_.record_from(log_from_, out)) {
    log_left_ = 0;
    send_reply(0, log_sent_ == 0 ? Code::no_such_record : Code::none, log_sent_);
    return;
  }
  out.from = log_from_;
  send(FrameType::log_record, strandproof_wire_LogRecord_fields, &out);
  log_from_ = out.sequence + 1;
  ++log_sent_;
  if (--log_left_ == 0) {
    send_reply(0, Code::none, log_sent_);
  }
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
