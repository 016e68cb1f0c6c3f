// One host at the other end of the byte stream: identify, pairing at the pendant, sealed messages, reads.
// poll() runs once a tick and does a bounded amount: at most bytes_per_tick received bytes and one frame.
// proto/SPEC.md has the rules; the hazards answered here are H24 to H27.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "firmware/link/handler.hpp"
#include "firmware/link/table_transfer.hpp"
#include "firmware/port/device.hpp"
#include "firmware/port/serial.hpp"
#include "firmware/units/units.hpp"
#include "proto/frame.hpp"

namespace strandproof::link {

inline constexpr std::size_t bytes_per_tick = 64;  // 921,600 baud brings 92
inline constexpr std::uint32_t forged_max = 3;
inline constexpr units::Ticks blocked_ticks = 600'000;     // ten minutes (H25)
inline constexpr units::Ticks pairing_ticks = 60'000;      // to confirm a pairing or a key at the pendant
inline constexpr units::Ticks validity_max = 60'000;       // no message may be good for longer
inline constexpr std::uint32_t telemetry_period_min = 20;  // ms
inline constexpr std::uint32_t log_window_max = 128;       // records ahead of what the host has said it has
// A record goes into the send buffer while fewer bytes than this wait there: 921,600 baud takes 92 a tick and
// a tick may pass without one, so the line never runs dry; and telemetry and replies find a short queue.
inline constexpr std::size_t log_backlog = 256;

class Session {
 public:
  Session(port::Serial& serial, const port::Device& device, Handler& handler)
      : serial_{serial}, device_{device}, handler_{handler} {}

  void start(std::uint32_t boot, const Pairing& stored);
  void poll(units::Ticks now);

  // The person at the pendant has answered.
  void confirm_pairing();
  void refuse_pairing();
  [[nodiscard]] bool pairing_waits() const { return pairing_until_ != 0; }
  void confirm_key();
  void refuse_key();
  [[nodiscard]] bool key_waits() const { return key_until_ != 0; }

  struct Counters {
    std::uint32_t frames_bad = 0, dropped_bytes = 0, tags_bad = 0, blocked_ms = 0;
  };
  [[nodiscard]] Counters counters(units::Ticks now) const;
  [[nodiscard]] bool paired_with(std::uint64_t host_id) const {
    return pairing_.host_id != 0 && pairing_.host_id == host_id;
  }

 private:
  void handle(const proto::Frame& f, units::Ticks now);
  void on_identify(std::span<const std::uint8_t> payload, units::Ticks now);
  void on_pair_request(std::span<const std::uint8_t> payload, units::Ticks now);
  void on_table_key_request(std::span<const std::uint8_t> payload, units::Ticks now);
  void on_sealed(const proto::Frame& f, units::Ticks now);
  [[nodiscard]] Code open(const strandproof_wire_Sealed& s, units::Ticks now);
  [[nodiscard]] Code ask_the_person(const Pairing& p, units::Ticks now);
  [[nodiscard]] Code ask_about_key(const TableKey& k, units::Ticks now);
  void open_session();
  void count_forged(units::Ticks now);
  [[nodiscard]] Code dispatch(const strandproof_wire_Sealed& s);
  [[nodiscard]] bool tag_good(const strandproof_wire_Sealed& s) const;
  void on_log_get(std::span<const std::uint8_t> payload);
  void on_telemetry_set(std::span<const std::uint8_t> payload);
  void send_status(units::Ticks now);
  void send_reply(std::uint32_t counter, Code code, std::uint32_t next_chunk);
  void send_pair_reply(Code code);
  void send_key_reply(Code code, const TableKey& k);
  void send_tables();
  void on_table_read(std::span<const std::uint8_t> payload);
  void serve_log();
  void serve_telemetry(units::Ticks now);
  void lapse_questions(units::Ticks now) {
    if (pairing_waits() || key_waits()) {
      end_lapsed(now);
    }
  }
  void end_lapsed(units::Ticks now);
  void send(proto::FrameType type, const pb_msgdesc_t* fields, const void* message);
  [[nodiscard]] bool room() const { return serial_.writable() >= proto::frame_max; }

  port::Serial& serial_;
  const port::Device& device_;
  Handler& handler_;
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> received_{};
  proto::FrameDecoder decoder_{received_};
  TableTransfer table_;
  Pairing pairing_, asked_;
  std::uint32_t boot_ = 0;
  std::uint32_t session_ = 0;
  bool opened_ = false;  // an identify has come in this boot
  std::uint32_t sequence_ = 0;
  std::array<std::uint8_t, 16> nonce_{};
  std::uint32_t last_counter_ = 0;
  Code last_code_ = Code::none;
  std::uint32_t last_next_chunk_ = 0;
  std::uint32_t forged_ = 0;  // since the last pairing or block
  std::uint32_t tags_bad_ = 0;
  units::Ticks blocked_until_ = 0;
  units::Ticks pairing_until_ = 0;  // 0: nobody waits
  std::uint32_t check_ = 0;
  TableKey asked_key_;
  units::Ticks key_until_ = 0;   // 0: nobody waits
  std::uint64_t log_from_ = 0;   // the next record is the first one at or after it
  std::uint64_t log_until_ = 0;  // and goes out while this is below: 0, nothing was asked for in this session
  std::uint8_t log_run_ = 0;
  std::uint32_t telemetry_ms_ = 0;  // 0: off
  units::Ticks telemetry_at_ = 0;
};

}  // namespace strandproof::link
