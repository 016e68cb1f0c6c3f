// Sealed messages: what must hold before a body is looked at, and what the bodies ask for (SPEC.md 5).
#include <algorithm>
#include <array>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/codec.hpp"
#include "firmware/link/session.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;

}  // namespace

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
    if (code != Code::none) {
      handler_.note_refused(s.kind, code);
    }
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
  const auto kind = static_cast<FrameType>(s.kind);
  const bool takes_long =
      kind == FrameType::table_commit || kind == FrameType::table_undo || kind == FrameType::table_withdraw;
  if (takes_long && !handler_.at_rest()) {
    return Code::busy;  // a signature is checked in one tick, longer than a tick of a pull may be
  }
  switch (kind) {
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
                  [&](const auto& m) { return handler_.release_records(m); });
    case FrameType::table_begin:
      return with(strandproof_wire_TableBegin{}, table_begin_shape, strandproof_wire_TableBegin_fields,
                  [&](const auto& m) { return table_.begin(m); });
    case FrameType::table_chunk:
      return with(strandproof_wire_TableChunk{}, table_chunk_shape, strandproof_wire_TableChunk_fields,
                  [&](const auto& m) { return table_.chunk(m); });
    case FrameType::table_commit:
      return with(strandproof_wire_TableCommit{}, table_commit_shape, strandproof_wire_TableCommit_fields,
                  [&](const auto& m) { return table_.commit(m, handler_); });
    case FrameType::table_withdraw:
      return with(strandproof_wire_TableWithdraw{}, table_withdraw_shape,
                  strandproof_wire_TableWithdraw_fields,
                  [&](const auto& m) { return handler_.withdraw_table(m); });
    case FrameType::table_undo:
      return with(strandproof_wire_TableUndo{}, table_undo_shape, strandproof_wire_TableUndo_fields,
                  [&](const auto& m) { return handler_.undo_table(m); });
    default:
      return Code::malformed;
  }
}

}  // namespace strandproof::link
