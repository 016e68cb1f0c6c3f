// `decode`: frames of a capture as readable lines, for whoever looks into the cable.
#include <fmt/core.h>

#include <array>
#include <span>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/report/lines.hpp"
#include "proto/frame.hpp"

namespace strandproof::host::cli {
namespace {

template <class M>
std::string fields(const std::string& payload) {
  M m;
  return m.ParseFromString(payload) ? m.ShortDebugString() : "payload not readable";
}

std::string secret(const std::string&) {
  return "(a key is in it; not shown)";
}

std::string record(const std::string& payload) {
  wire::LogRecord r;
  if (!r.ParseFromString(payload)) return "payload not readable";
  return fmt::format("{} boot {}: {}", r.sequence(), r.boot(), report::record_line(r.body()));
}

std::string sealed(const std::string& payload);

struct Row {
  proto::FrameType type;
  const char* name;
  std::string (*text)(const std::string& payload);
};

// Every type of the wire; a type that is missing here is printed as "unknown".
constexpr std::array rows{
    Row{proto::FrameType::identify, "identify", fields<wire::Identify>},
    Row{proto::FrameType::identity, "identity", fields<wire::Identity>},
    Row{proto::FrameType::pair_request, "pair_request", secret},
    Row{proto::FrameType::pair_reply, "pair_reply", fields<wire::PairReply>},
    Row{proto::FrameType::sealed, "sealed", sealed},
    Row{proto::FrameType::reply, "reply", fields<wire::Reply>},
    Row{proto::FrameType::status_get, "status_get", fields<wire::StatusGet>},
    Row{proto::FrameType::status, "status", fields<wire::Status>},
    Row{proto::FrameType::telemetry_set, "telemetry_set", fields<wire::TelemetrySet>},
    Row{proto::FrameType::telemetry, "telemetry", fields<wire::Telemetry>},
    Row{proto::FrameType::log_get, "log_get", fields<wire::LogGet>},
    Row{proto::FrameType::log_record, "log_record", record},
    Row{proto::FrameType::table_key_request, "table_key_request", fields<wire::TableKeyRequest>},
    Row{proto::FrameType::table_key_reply, "table_key_reply", fields<wire::TableKeyReply>},
    Row{proto::FrameType::tables_get, "tables_get", fields<wire::TablesGet>},
    Row{proto::FrameType::tables, "tables", fields<wire::Tables>},
    Row{proto::FrameType::table_read, "table_read", fields<wire::TableRead>},
    Row{proto::FrameType::table_bytes, "table_bytes", fields<wire::TableBytes>},
};
constexpr std::array bodies{
    Row{proto::FrameType::clock_set, "clock_set", fields<wire::ClockSet>},
    Row{proto::FrameType::table_begin, "table_begin", fields<wire::TableBegin>},
    Row{proto::FrameType::table_chunk, "table_chunk", fields<wire::TableChunk>},
    Row{proto::FrameType::table_commit, "table_commit", fields<wire::TableCommit>},
    Row{proto::FrameType::pull_instruction, "pull_instruction", fields<wire::PullInstruction>},
    Row{proto::FrameType::bed_entry, "bed_entry", fields<wire::BedEntry>},
    Row{proto::FrameType::record_release, "record_release", fields<wire::RecordRelease>},
    Row{proto::FrameType::table_withdraw, "table_withdraw", fields<wire::TableWithdraw>},
    Row{proto::FrameType::table_undo, "table_undo", fields<wire::TableUndo>},
};

const Row* row_of(std::span<const Row> from, std::uint32_t type) {
  for (const Row& row : from) {
    if (static_cast<std::uint32_t>(row.type) == type) return &row;
  }
  return nullptr;
}

std::string sealed(const std::string& payload) {
  wire::Sealed s;
  if (!s.ParseFromString(payload)) return "payload not readable";
  const Row* body = row_of(bodies, s.kind());
  return fmt::format("{} counter {} valid until {} ms of host {:#x}: {}", body ? body->name : "unknown",
                     s.counter(), s.valid_until_ms(), s.host_id(), body ? body->text(s.body()) : "");
}

// A capture is bytes, or those bytes in hexadecimal with any white space between.
std::string capture_bytes(const std::string& text) {
  std::string digits;
  for (const char c : text) {
    if (c != ' ' && c != '\n' && c != '\r' && c != '\t') digits += c;
  }
  return from_hex(digits).value_or(text);
}

void print_frame(std::size_t at, const proto::Frame& f) {
  const Row* row = row_of(rows, static_cast<std::uint32_t>(f.header.type));
  fmt::print("byte {:>6}  {:<13} device {} session {:#x} sequence {}  {}\n", at, row ? row->name : "unknown",
             f.header.device, f.header.session, f.header.sequence,
             row ? row->text({f.payload.begin(), f.payload.end()}) : "");
}

}  // namespace

Exit decode(const Common&, const std::string& capture) {
  std::string bytes = capture_bytes(read_file(capture));
  bytes += '\0';  // ends what the capture cut off, so that it is counted and not passed over
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> buffer{};
  proto::FrameDecoder decoder{buffer};
  std::size_t at = 0;
  for (const char byte : bytes) {
    ++at;
    const auto bad = decoder.counters().bad;
    if (decoder.push(static_cast<std::uint8_t>(byte))) {
      print_frame(at, decoder.frame());
    } else if (decoder.counters().bad != bad) {
      fmt::print("byte {:>6}  BAD FRAME: cut, damaged or not canonical\n", at);
    }
  }
  const auto& n = decoder.counters();
  fmt::print("{} frames, {} bad, {} bytes dropped\n", n.frames, n.bad, n.dropped_bytes);
  return n.bad == 0 && n.frames > 0 ? Exit::good : Exit::refused;
}

}  // namespace strandproof::host::cli
