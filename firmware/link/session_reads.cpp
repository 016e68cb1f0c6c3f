// Reads: status, telemetry, log (SPEC.md 6). They change nothing and need no tag.
#include <algorithm>
#include <limits>

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

// The host's window. The same run goes on where the jack is; another one goes back to where the host is. A
// record takes longer to read and to pack than a tick that moves oil has left.
void Session::on_log_get(Bytes payload) {
  strandproof_wire_LogGet in = strandproof_wire_LogGet_init_zero;
  if (!decode(payload, strandproof_wire_LogGet_fields, in) || in.count == 0) {
    send_reply(0, Code::malformed, 0);
    return;
  }
  if (handler_.moving()) {
    send_reply(0, Code::busy, 0);
    return;
  }
  const std::uint64_t until = in.from + std::min({std::uint64_t{in.count}, std::uint64_t{log_window_max},
                                                  std::numeric_limits<std::uint64_t>::max() - in.from});
  if (log_until_ != 0 && in.run == log_run_) {
    log_until_ = std::max(log_until_, until);
    return;
  }
  log_from_ = in.from;
  log_until_ = until;
  log_run_ = in.run;
}

// One record a tick, as long as there is window and line for it. Behind the newest a frame without a record
// says so and ends the window. Room is left for a reply behind it.
void Session::serve_log() {
  if (log_from_ >= log_until_ || serial_.waiting() >= log_backlog ||
      serial_.writable() < 2 * proto::frame_max || handler_.moving()) {
    return;
  }
  strandproof_wire_LogRecord out = strandproof_wire_LogRecord_init_zero;
  const bool some = handler_.record_from(log_from_, out);
  out.from = log_from_;
  out.run = log_run_;
  send(FrameType::log_record, strandproof_wire_LogRecord_fields, &out);
  if (some) {
    log_from_ = out.sequence + 1;
  } else {
    log_until_ = log_from_;
  }
}

}  // namespace strandproof::link
