// A Peer and a FakeJack on one line, in virtual time, with whatever the line does to the bytes.
#pragma once

#include <functional>
#include <random>

#include "proto/peer/peer.hpp"
#include "tests/link/fake_jack.hpp"
#include "tests/link/table_bytes.hpp"

namespace strandproof::link {

inline proto::HostKeys host_keys(std::uint8_t seed = 1) {
  proto::HostKeys k;
  k.host_id = 0x1000U + seed;
  k.name = "yard office";
  k.key.fill(seed);
  return k;
}

using Line = std::function<std::vector<std::uint8_t>(std::vector<std::uint8_t>)>;

struct Pipe {
  explicit Pipe(proto::HostKeys k = host_keys(), proto::PeerTiming timing = {})
      : keys{k}, peer{std::move(k), 0, timing} {
    jack.handler.table_key = table_key(keys).public_key();
  }

  void tick() {
    const auto up = to_jack(peer.take());
    jack.serial.to_jack.insert(jack.serial.to_jack.end(), up.begin(), up.end());
    jack.tick();
    peer.feed(to_host(jack.sent()), jack.now);
    peer.poll(jack.now);
  }
  // Runs until the peer has nothing more to do; false if it still had after `limit` ticks.
  bool run(unsigned limit = 200'000) {
    for (unsigned i = 0; i < limit && peer.busy(); ++i) {
      tick();
    }
    return !peer.busy();
  }
  void pair() {
    jack.handler.open = true;
    peer.on_check = [this](std::uint32_t digits) {
      digits_at_host = digits;
      digits_at_jack = jack.handler.shown;
      jack.session.confirm_pairing();
    };
    peer.pair();
    run();
    jack.handler.open = false;
  }

  FakeJack jack;
  proto::HostKeys keys;
  proto::Peer peer;
  Line to_jack = [](auto bytes) { return bytes; };
  Line to_host = [](auto bytes) { return bytes; };
  std::uint32_t digits_at_host = 0, digits_at_jack = 0;
};

}  // namespace strandproof::link
