// A host written against the bytes of SPEC.md and not against the Peer, so that a test can send what a Peer
// never would: wrong tags, old counters, late messages, odd bodies.
#pragma once

#include <gtest/gtest.h>
#include <sodium.h>

#include "proto/little_endian.hpp"
#include "tests/link/pipe.hpp"

namespace strandproof::link {

class Forger {
 public:
  explicit Forger(FakeJack& j, proto::HostKeys k = host_keys()) : jack{j}, keys{std::move(k)} {
    jack.session.start(7, {.host_id = keys.host_id, .key = proto::seal_key(keys.key)});
    jack.handler.table_key = table_key(keys).public_key();
    identify();
  }

  // Sends one frame and runs the jack until it has read it and `more` ticks beyond; the frames it answered.
  std::vector<std::pair<proto::FrameType, std::string>> send(proto::FrameType type,
                                                             const std::string& payload, unsigned more = 1) {
    std::array<std::uint8_t, proto::frame_max> frame{};
    const std::size_t n =
        proto::encode_frame({.type = type, .device = device, .session = session, .sequence = sequence++},
                            {reinterpret_cast<const std::uint8_t*>(payload.data()), payload.size()}, frame);
    jack.serial.to_jack.insert(jack.serial.to_jack.end(), frame.begin(),
                               frame.begin() + static_cast<std::ptrdiff_t>(n));
    do {
      jack.tick();
    } while (!jack.serial.to_jack.empty());
    for (unsigned i = 0; i < more; ++i) {
      jack.tick();
    }
    return answers();
  }

  std::vector<std::pair<proto::FrameType, std::string>> answers() {
    std::vector<std::pair<proto::FrameType, std::string>> out;
    for (const std::uint8_t b : jack.sent()) {
      if (decoder_.push(b)) {
        const proto::Frame& f = decoder_.frame();
        last_header = f.header;
        out.emplace_back(f.header.type, std::string{f.payload.begin(), f.payload.end()});
      }
    }
    return out;
  }

  void identify() {
    wire::Identify i;
    i.set_protocol_major(1);
    i.set_host_id(keys.host_id);
    session = 0;
    for (const auto& [type, payload] : send(proto::FrameType::identify, i.SerializeAsString())) {
      ASSERT_EQ(type, proto::FrameType::identity);
      ASSERT_TRUE(identity.ParseFromString(payload));
      session = last_header.session;
    }
    counter = 0;
  }

  // A sealed message with a good tag; change what you like before the tag is made, or after it.
  wire::Sealed sealed(proto::FrameType kind, const std::string& body) {
    return sealed(static_cast<std::uint32_t>(kind), body);
  }
  wire::Sealed sealed(std::uint32_t kind, const std::string& body) {
    wire::Sealed s;
    s.set_counter(++counter);
    s.set_valid_until_ms(jack.now + 5'000);
    s.set_host_id(keys.host_id);
    s.set_kind(kind);
    s.set_body(body);
    s.set_tag(tag(s));
    return s;
  }

  std::string tag(const wire::Sealed& s) const {
    std::string in = "strandproof sealed";
    std::uint8_t n[44];
    proto::put_u32(4711, n);
    std::copy(identity.nonce().begin(), identity.nonce().end(), n + 4);
    proto::put_u32(s.counter(), n + 20);
    proto::put_u64(s.valid_until_ms(), n + 24);
    proto::put_u64(s.host_id(), n + 32);
    proto::put_u32(s.kind(), n + 40);
    in.append(reinterpret_cast<const char*>(n), 44).append(s.body());
    std::uint8_t out[32];
    const proto::Key key = proto::seal_key(keys.key);
    crypto_auth_hmacsha256(out, reinterpret_cast<const std::uint8_t*>(in.data()), in.size(), key.data());
    return {reinterpret_cast<const char*>(out), 16};
  }

  // Refusal code of the one reply to this payload in a sealed frame.
  Code ask(const std::string& payload) {
    const auto got = send(proto::FrameType::sealed, payload);
    EXPECT_EQ(got.size(), 1U);
    wire::Reply r;
    if (got.size() != 1 || got[0].first != proto::FrameType::reply || !r.ParseFromString(got[0].second)) {
      ADD_FAILURE() << "no reply";
      return Code::malformed;
    }
    reply = r;
    return static_cast<Code>(r.code());
  }
  Code ask(const wire::Sealed& s) { return ask(s.SerializeAsString()); }
  Code set_clock(std::uint64_t utc_s) {
    wire::ClockSet m;
    m.set_utc_s(utc_s);
    return ask(sealed(proto::FrameType::clock_set, m.SerializeAsString()));
  }

  FakeJack& jack;
  proto::HostKeys keys;
  wire::Identity identity;
  wire::Reply reply;
  proto::FrameHeader last_header;
  std::uint32_t device = 4711, session = 0, sequence = 0, counter = 0;

 private:
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> buffer_{};
  proto::FrameDecoder decoder_{buffer_};
};

// Every case of what a jack must withstand: a jack, and a host with its keys that does as it likes.
struct Hostile : testing::Test {
  FakeJack jack;
  Forger host{jack};
};

inline std::string clock_body(std::uint64_t utc_s) {
  wire::ClockSet m;
  m.set_utc_s(utc_s);
  return m.SerializeAsString();
}

}  // namespace strandproof::link
