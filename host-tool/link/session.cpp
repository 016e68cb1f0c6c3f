#include "host-tool/link/session.hpp"

#include <fmt/core.h>

#include <optional>
#include <thread>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::link {
namespace {

constexpr std::chrono::milliseconds turn_time{10};       // the peer wants to be polled about this often
constexpr std::chrono::milliseconds between_tries{200};  // of opening a lost port again

}  // namespace

Session::Session(std::string port, proto::HostKeys keys, SessionOptions options)
    : port_{std::move(port)},
      options_{std::move(options)},
      peer_{std::move(keys), 0, options_.timing},
      line_{open_line(port_)},
      start_{std::chrono::steady_clock::now()} {
  for (const auto& warning : line_->warnings()) tell("warning: " + warning);
}

proto::Milliseconds Session::now() const {
  const auto since = std::chrono::steady_clock::now() - start_;
  return static_cast<proto::Milliseconds>(
      std::chrono::duration_cast<std::chrono::milliseconds>(since).count());
}

void Session::tell(const std::string& news) const {
  if (options_.tell) options_.tell(news);
}

void Session::turn() {
  peer_.poll(now());
  if (const auto bytes = peer_.take(); !bytes.empty()) line_->send(bytes);
  if (const auto bytes = line_->wait(turn_time); !bytes.empty()) peer_.feed(bytes, now());
}

// The old line is closed first: the device gets its old name back only when nobody holds it.
void Session::reconnect(const std::string& why) {
  line_.reset();
  peer_.line_lost();
  tell(fmt::format("line lost ({}); waiting {} s for it to come back", why, options_.reconnect.count()));
  const auto until = std::chrono::steady_clock::now() + options_.reconnect;
  while (true) {
    std::this_thread::sleep_for(between_tries);
    if (options_.stop && options_.stop()) throw Stopped{};
    try {
      line_ = open_line(port_);
      tell("line is back");
      return;
    } catch (const Problem& still) {
      if (std::chrono::steady_clock::now() < until) continue;
      throw bad_input(fmt::format(
          "{}; the line was lost and did not come back in {} s; nothing is half done: what the jack "
          "acknowledged is kept, run the command again",
          still.what(), options_.reconnect.count()));
    }
  }
}

std::string Session::silence() const {
  const auto& c = peer_.counters();
  if (c.bad > 0 || c.dropped_bytes > 0) {
    return fmt::format(
        "port {}: something answers, but not in this protocol ({} bad frames, {} bytes dropped); is it the "
        "right port?",
        port_, c.bad, c.dropped_bytes);
  }
  const auto waited = options_.timing.retry * options_.timing.attempts;
  return fmt::format("port {}: silent for {:.1f} s; is the jack switched on, and is it the right port?",
                     port_, static_cast<double>(waited) / 1e3);
}

proto::Result Session::run(const std::function<void(proto::Peer&, proto::Peer::Done)>& job) {
  std::optional<proto::Result> ended;
  job(peer_, [&](const proto::Result& result) { ended = result; });
  while (!ended) listen();
  switch (ended->outcome) {
    case proto::Outcome::done:
    case proto::Outcome::refused:
      return *ended;
    case proto::Outcome::no_answer:
      // Who has answered before speaks the protocol: then the job knows better what is wrong.
      throw bad_input(peer_.identity() ? fmt::format("port {}: {}", port_, ended->what) : silence());
    default:
      throw bad_input(fmt::format("port {}: {}", port_, ended->what));
  }
}

void Session::listen() {
  try {
    turn();
  } catch (const LineLost& lost) {
    reconnect(lost.what());
  }
}

void Session::must(const std::function<void(proto::Peer&, proto::Peer::Done)>& job) {
  const auto result = run(job);
  if (!result.ok()) throw refused("the jack refuses: " + result.what);
}

const wire::Identity& Session::identify() {
  must([](proto::Peer& p, proto::Peer::Done done) { p.identify(std::move(done)); });
  peer_.expect(peer_.identity()->jack_serial());
  return *peer_.identity();
}

}  // namespace strandproof::host::link
