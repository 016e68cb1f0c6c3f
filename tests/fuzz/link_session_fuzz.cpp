// The controller's handling of messages, behind frame, CRC and tag: the harness is a host with the right keys
// that puts the fuzzer's bytes into good frames, good sealed messages and well-signed tables. The input is a
// list of steps: op, length, bytes. Found wrong: more than 64 bytes read in a tick; an answer that is no
// frame or no message of the host's; a body that was taken though protobuf's own decoder refuses it or finds
// fields it does not know; a call of the handler without a sealed message.
//
// libs: firmware_link strandproof_peer
#include <cstdlib>

#include "proto/peer/seal.hpp"
#include "strandproof/wire.pb.h"
#include "tests/link/fake_jack.hpp"

namespace {

using namespace strandproof;
using proto::FrameType;

void demand(bool holds) {
  if (!holds) {
    std::abort();
  }
}

proto::Key filled(std::uint8_t with) {
  proto::Key k{};
  k.fill(with);
  return k;
}

const proto::TableKey& table_key() {
  static const proto::TableKey key{filled(9)};
  return key;
}

std::unique_ptr<google::protobuf::Message> body_of(std::uint32_t kind) {
  switch (static_cast<FrameType>(kind)) {
    case FrameType::clock_set:
      return std::make_unique<wire::ClockSet>();
    case FrameType::table_begin:
      return std::make_unique<wire::TableBegin>();
    case FrameType::table_chunk:
      return std::make_unique<wire::TableChunk>();
    case FrameType::table_commit:
      return std::make_unique<wire::TableCommit>();
    case FrameType::pull_instruction:
      return std::make_unique<wire::PullInstruction>();
    case FrameType::bed_entry:
      return std::make_unique<wire::BedEntry>();
    case FrameType::record_release:
      return std::make_unique<wire::RecordRelease>();
    case FrameType::table_withdraw:
      return std::make_unique<wire::TableWithdraw>();
    case FrameType::table_undo:
      return std::make_unique<wire::TableUndo>();
    default:
      return nullptr;
  }
}

bool known_whole(const google::protobuf::Message& m) {
  return m.GetReflection()->GetUnknownFields(m).empty();
}

class Host {
 public:
  Host() {
    keys_.host_id = 77;
    keys_.key = filled(3);
    jack_.session.start(1, {.host_id = 77, .key = proto::seal_key(keys_.key)});
    jack_.handler.table_key = table_key().public_key();
    jack_.handler.records[3] = "abc";
    jack_.handler.records[9] = std::string(448, 'x');
    identify();
  }

  void step(std::uint8_t op, std::string bytes) {
    const std::size_t calls = jack_.handler.calls.size();
    const std::uint8_t low = bytes.empty() ? std::uint8_t{0} : static_cast<std::uint8_t>(bytes[0]);
    switch (op % 8) {
      case 0:
        raw(bytes);
        break;
      case 1:
        frame(static_cast<FrameType>(low), bytes.substr(std::min<std::size_t>(1, bytes.size())));
        break;
      case 2:
        sealed(32U + low % 10U,  // 32 to 40 have a body, 41 has no meaning
               bytes.substr(std::min<std::size_t>(1, bytes.size())));
        return;
      case 3:
        table(bytes);
        return;
      case 4:
        identify();
        break;
      case 5:
        pendant(low);
        break;
      case 6:
        jack_.now += low * 1'000U;
        break;
      default:
        jack_.serial.room = low * 16U;
        break;
    }
    demand(jack_.handler.calls.size() == calls);  // nothing changes but by a sealed message
  }

 private:
  void tick() {
    const std::size_t before = jack_.serial.taken;
    jack_.tick();
    demand(jack_.serial.taken - before <= link::bytes_per_tick);
  }

  // Until all is read, and what was answered is checked.
  void run() {
    do {
      tick();
    } while (!jack_.serial.to_jack.empty());
    tick();
    for (const std::uint8_t b : jack_.sent()) {
      if (decoder_.push(b)) {
        answer(decoder_.frame());
      }
    }
    demand(decoder_.counters().bad == 0);
  }

  void answer(const proto::Frame& f) {
    const std::string payload{f.payload.begin(), f.payload.end()};
    demand(f.header.device == 4711);
    switch (f.header.type) {
      case FrameType::identity:
        demand(identity_.ParseFromString(payload));
        session_ = f.header.session;
        counter_ = 0;
        break;
      case FrameType::reply:
        demand(reply_.ParseFromString(payload));
        break;
      case FrameType::pair_reply:
        demand(wire::PairReply{}.ParseFromString(payload));
        break;
      case FrameType::status:
        demand(wire::Status{}.ParseFromString(payload));
        break;
      case FrameType::telemetry:
        demand(wire::Telemetry{}.ParseFromString(payload));
        break;
      case FrameType::log_record:
        demand(wire::LogRecord{}.ParseFromString(payload));
        break;
      case FrameType::table_key_reply:
        demand(wire::TableKeyReply{}.ParseFromString(payload));
        break;
      case FrameType::tables:
        demand(wire::Tables{}.ParseFromString(payload));
        break;
      case FrameType::table_bytes:
        demand(wire::TableBytes{}.ParseFromString(payload));
        break;
      default:
        demand(false);
    }
  }

  void raw(const std::string& bytes) {
    jack_.serial.to_jack.insert(jack_.serial.to_jack.end(), bytes.begin(), bytes.end());
    run();
  }

  void frame(FrameType type, const std::string& payload) {
    std::array<std::uint8_t, proto::frame_max> out{};
    const std::size_t n = proto::encode_frame(
        {.type = type, .device = type == FrameType::identify ? 0U : 4711U, .session = session_},
        {reinterpret_cast<const std::uint8_t*>(payload.data()), std::min(payload.size(), proto::payload_max)},
        out);
    raw({out.begin(), out.begin() + static_cast<std::ptrdiff_t>(n)});
  }

  void identify() {
    wire::Identify i;
    i.set_protocol_major(1);
    i.set_host_id(77);
    frame(FrameType::identify, i.SerializeAsString());
  }

  void sealed(std::uint32_t kind, std::string body) {
    body.resize(std::min<std::size_t>(body.size(), 320));
    const std::size_t calls = jack_.handler.calls.size();
    const std::string& nonce = identity_.nonce();
    reply_.set_code(999);
    frame(FrameType::sealed,
          proto::seal(keys_,
                      {.device = 4711,
                       .nonce = {reinterpret_cast<const std::uint8_t*>(nonce.data()), nonce.size()},
                       .counter = ++counter_,
                       .valid_until_ms = jack_.now + 1'000},
                      static_cast<FrameType>(kind), body));
    const auto message = body_of(kind);
    // A reply that comes late answers a read; it bears no counter.
    const bool taken = reply_.counter() == counter_ && reply_.code() == 0;
    if (taken || jack_.handler.calls.size() != calls) {
      demand(message != nullptr && message->ParseFromString(body) && known_whole(*message));
    }
  }

  // Whatever the bytes are: they come whole and signed by the right key.
  void table(std::string bytes) {
    bytes.resize(std::min<std::size_t>(std::max<std::size_t>(bytes.size(), 1), 960));
    const std::vector<std::uint8_t> whole{bytes.begin(), bytes.end()};
    wire::GaugeTable t;
    const bool parsed = t.ParseFromString(bytes);
    wire::TableBegin b;
    b.set_revision(t.revision());
    b.set_length(static_cast<std::uint32_t>(whole.size()));
    const proto::Key digest = proto::sha256(whole);
    b.set_sha256({digest.begin(), digest.end()});
    sealed(33, b.SerializeAsString());
    for (std::uint32_t i = 0; i * 160U < whole.size(); ++i) {
      wire::TableChunk c;
      c.set_index(i);
      c.set_data(bytes.substr(i * 160U, 160));
      sealed(34, c.SerializeAsString());
    }
    const std::size_t calls = jack_.handler.calls.size();
    wire::TableCommit c;
    c.set_revision(t.revision());
    const proto::Signature s = table_key().sign(whole);
    c.set_signature({s.begin(), s.end()});
    sealed(35, c.SerializeAsString());
    if (jack_.handler.calls.size() != calls) {
      demand(parsed && known_whole(t) && known_whole(t.a_increasing()) && known_whole(t.b_decreasing()));
      demand(jack_.handler.table == whole);
    }
  }

  void pendant(std::uint8_t what) {
    jack_.handler.open = (what & 1U) != 0;
    jack_.handler.rest = (what & 2U) == 0;
    if ((what & 4U) != 0) {
      jack_.session.refuse_pairing();
    }
  }

  link::FakeJack jack_;
  proto::HostKeys keys_;
  wire::Identity identity_;
  wire::Reply reply_;
  std::uint32_t session_ = 0, counter_ = 0;
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> buffer_{};
  proto::FrameDecoder decoder_{buffer_};
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const bool quiet = [] {
    google::protobuf::SetLogHandler(nullptr);  // its word on every body that does not parse
    return true;
  }();
  (void)quiet;
  Host host;
  for (std::size_t at = 0, steps = 0; at + 1 < size && steps < 40; ++steps) {
    const std::uint8_t op = data[at];
    // Long steps exist: the length counts threes from 128 on, up to 509 bytes.
    const std::size_t asked = data[at + 1] < 128 ? data[at + 1] : 128U + 3U * (data[at + 1] - 128U);
    const std::size_t n = std::min(asked, size - at - 2);
    host.step(op, {reinterpret_cast<const char*>(data) + at + 2, n});
    at += 2 + n;
  }
  return 0;
}
