// A conversation with one jack: proto::Peer over a Line, with the cable allowed to be pulled and put back.
#pragma once

#include <chrono>
#include <exception>
#include <functional>
#include <memory>
#include <string>

#include "host-tool/link/line.hpp"
#include "proto/peer/peer.hpp"

namespace strandproof::host::link {

// Options.stop has ended the wait for a lost line.
class Stopped : public std::exception {};

struct SessionOptions {
  std::chrono::seconds reconnect{30};  // how long a lost line is waited for
  proto::PeerTiming timing{};
  std::function<bool()> stop{};                    // whether the wait for a lost line is given up: Stopped
  std::function<void(const std::string&)> tell{};  // news for the person: warnings, cable lost, cable back
};

class Session {
 public:
  // Opens the port. Throws Problem as open_line does.
  Session(std::string port, proto::HostKeys keys, SessionOptions options = {});

  [[nodiscard]] proto::Peer& peer() { return peer_; }

  // Starts a job on the peer, runs until it has ended, and returns what the jack said. Only "done" and
  // "refused" come back; a silent port, another protocol, a wrong jack and a cable that stays lost are thrown
  // as Problem (fault).
  proto::Result run(const std::function<void(proto::Peer&, proto::Peer::Done)>& job);

  // As run, but a refusal is thrown as Problem (refused).
  void must(const std::function<void(proto::Peer&, proto::Peer::Done)>& job);

  // One turn without a job, for what the jack sends by itself: about 10 ms, or less if something came. A lost
  // line is waited for as in run.
  void listen();

  // Who is there. From then on another jack is refused: a cable may be moved between two jobs.
  const wire::Identity& identify();

 private:
  void turn();
  void reconnect(const std::string& why);
  [[nodiscard]] proto::Milliseconds now() const;
  void tell(const std::string& news) const;
  [[nodiscard]] std::string silence() const;

  std::string port_;
  SessionOptions options_;
  proto::Peer peer_;
  std::unique_ptr<Line> line_;
  std::chrono::steady_clock::time_point start_;
};

}  // namespace strandproof::host::link
