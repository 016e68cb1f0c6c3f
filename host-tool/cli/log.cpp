// Commands about the jack's log: fetch, show; and decode, for what was captured on the line.
#include <fmt/core.h>
#include <google/protobuf/util/json_util.h>

#include <algorithm>
#include <array>

#include "host-tool/archive/archive.hpp"
#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/report/lines.hpp"
#include "proto/frame.hpp"

namespace strandproof::host::cli {
namespace {

constexpr std::size_t batch = 64;  // records a transaction

using wire::Record;

void print_curve(const std::string& body) {
  Record r;
  if (!r.ParseFromString(body) || !r.has_pull()) return;
  std::int64_t um = 0;
  std::int64_t n = 0;
  for (int i = 0; i < r.pull().curve_um_size() && i < r.pull().curve_n_size(); ++i) {
    um += r.pull().curve_um(i);
    n += r.pull().curve_n(i);
    fmt::print("      {:>10.3f} mm {:>10.3f} kN\n", static_cast<double>(um) / 1e3,
               static_cast<double>(n) / 1e3);
  }
}

// One JSON object a line, fields as wire.proto names them; 64-bit numbers are texts there.
void print_json(const archive::StoredRecord& stored) {
  Record r;
  std::string body = "null";
  if (r.ParseFromString(stored.body)) {
    google::protobuf::util::JsonPrintOptions options;
    options.preserve_proto_field_names = true;
    body.clear();
    (void)google::protobuf::util::MessageToJsonString(r, &body, options);
  }
  fmt::print("{{\"jack\":{},\"boot\":{},\"sequence\":{},\"tick_ms\":{},\"record\":{}}}\n", stored.device,
             stored.boot, stored.sequence, stored.tick_ms, body);
}

}  // namespace

Exit log_fetch(const Common& common) {
  auto c = connect(common);
  auto kept = open_archive(common);
  const auto& i = c.session->identify();
  const std::uint64_t known = kept.last_sequence(i.jack_serial());
  if (i.last_record() < known) {
    throw refused(fmt::format(
        "jack {} holds records up to {}, archive {} already up to {}: its memory was renewed; keep this "
        "archive, use another one (--archive) and report it",
        i.jack_serial(), i.last_record(), common.archive, known));
  }
  // From the newest that is held: it is compared, so that another memory under the same serial is noticed.
  const std::uint64_t from = std::max<std::uint64_t>(known, 1);
  std::vector<archive::StoredRecord> waiting;
  archive::Added total{0, 0};
  const auto store = [&] {
    const auto added = kept.add(waiting);
    total.added += added.added;
    total.already_held += added.already_held;
    waiting.clear();
  };
  c.session->peer().on_record = [&](const wire::LogRecord& r) {
    waiting.push_back({i.jack_serial(), r.boot(), r.sequence(), r.tick_ms(), r.body()});
    if (waiting.size() >= batch) {
      store();
      fmt::print(stderr, "\r{} records", total.added);
    }
  };
  if (i.last_record() >= from) {
    c.session->must(
        [&](proto::Peer& p, proto::Peer::Done done) { p.fetch_log(from, UINT64_MAX, std::move(done)); });
  }
  store();
  // Only what is durable here may be freed there.
  const std::uint64_t held = kept.last_sequence(i.jack_serial());
  const auto& now = *c.session->peer().identity();
  if (held != 0 && now.paired()) {
    c.session->must(
        [&](proto::Peer& p, proto::Peer::Done done) { p.release_records(held, std::move(done)); });
  }
  if (common.json) {
    fmt::print("{{\"jack\":{},\"added\":{},\"last_record\":{}}}\n", i.jack_serial(), total.added, held);
  } else {
    fmt::print("jack {}: {} new records; the archive holds up to record {}\n", i.jack_serial(), total.added,
               held);
  }
  return Exit::good;
}

Exit log_show(const Common& common, bool curves) {
  for (const auto& r : open_archive(common).records()) {
    if (common.json) {
      print_json(r);
      continue;
    }
    fmt::print("{:>6} jack {} boot {} {:>10.3f} s  {}\n", r.sequence, r.device, r.boot,
               static_cast<double>(r.tick_ms) / 1e3, report::record_line(r.body));
    if (curves) print_curve(r.body);
  }
  return Exit::good;
}

// ---- decode -------------------------------------------------------------------------------------------

namespace {

const char* type_name(proto::FrameType t) {
  using enum proto::FrameType;
  switch (t) {
    case identify:
      return "identify";
    case identity:
      return "identity";
    case pair_request:
      return "pair_request";
    case pair_reply:
      return "pair_reply";
    case sealed:
      return "sealed";
    case reply:
      return "reply";
    case status_get:
      return "status_get";
    case proto::FrameType::status:
      return "status";
    case telemetry_set:
      return "telemetry_set";
    case telemetry:
      return "telemetry";
    case log_get:
      return "log_get";
    case log_record:
      return "log_record";
    default:
      return "unknown";
  }
}

template <class M>
std::string fields(const std::string& payload) {
  M m;
  return m.ParseFromString(payload) ? m.ShortDebugString() : "payload not readable";
}

std::string payload_text(proto::FrameType t, const std::string& p) {
  using enum proto::FrameType;
  using namespace wire;
  switch (t) {
    case identify:
      return fields<Identify>(p);
    case identity:
      return fields<Identity>(p);
    case pair_request:
      return "(a pairing key is in it; not shown)";
    case pair_reply:
      return fields<PairReply>(p);
    case sealed:
      return fields<Sealed>(p);
    case reply:
      return fields<Reply>(p);
    case proto::FrameType::status:
      return fields<Status>(p);
    case telemetry_set:
      return fields<TelemetrySet>(p);
    case telemetry:
      return fields<Telemetry>(p);
    case log_get:
      return fields<LogGet>(p);
    case log_record: {
      LogRecord r;
      return r.ParseFromString(p)
                 ? fmt::format("{} boot {}: {}", r.sequence(), r.boot(), report::record_line(r.body()))
                 : "payload not readable";
    }
    default:
      return {};
  }
}

// A capture is bytes, or those bytes in hexadecimal with any white space between.
std::string capture_bytes(const std::string& text) {
  std::string digits;
  for (const char c : text) {
    if (c != ' ' && c != '\n' && c != '\r' && c != '\t') digits += c;
  }
  return from_hex(digits).value_or(text);
}

}  // namespace

Exit decode(const Common&, const std::string& capture) {
  const std::string bytes = capture_bytes(read_file(capture));
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> buffer{};
  proto::FrameDecoder decoder{buffer};
  std::size_t at = 0;
  for (const char byte : bytes) {
    ++at;
    const auto bad = decoder.counters().bad;
    if (decoder.push(static_cast<std::uint8_t>(byte))) {
      const auto& f = decoder.frame();
      const std::string payload(f.payload.begin(), f.payload.end());
      fmt::print("byte {:>6}  {:<13} device {} session {:#x} sequence {}  {}\n", at, type_name(f.header.type),
                 f.header.device, f.header.session, f.header.sequence, payload_text(f.header.type, payload));
    } else if (decoder.counters().bad != bad) {
      fmt::print("byte {:>6}  BAD FRAME: cut, damaged or not canonical\n", at);
    }
  }
  const auto& n = decoder.counters();
  fmt::print("{} frames, {} bad, {} bytes dropped\n", n.frames, n.bad, n.dropped_bytes);
  return n.bad == 0 && n.frames > 0 ? Exit::good : Exit::refused;
}

}  // namespace strandproof::host::cli
