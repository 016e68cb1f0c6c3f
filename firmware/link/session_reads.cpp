// Reads: status, telemetry, log (SPEC.md 6). They change nothing and need no tag.
#include "firmware/link/codec.hpp"
#include "firmware/link/session.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;

}  // namespace

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

}  // namespace strandproof::link
