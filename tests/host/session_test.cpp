// The line to a jack: absent, busy, without permission, silent, talking something else; a pulled cable comes
// back.
#include "host-tool/link/session.hpp"

#include <arpa/inet.h>
#include <gtest/gtest.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>

#include <string>

#include "host-tool/base/problem.hpp"
#include "tests/host/fake_jack.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::link {
namespace {

using test::expect_part;
using test::FakeJack;
using test::Manner;
using test::problem_of;

proto::HostKeys some_keys() {
  proto::HostKeys keys;
  keys.host_id = 5;
  keys.name = "test";
  return keys;
}

// Where no answer is to come.
SessionOptions quick() {
  SessionOptions o;
  o.timing.retry = 60;
  o.timing.attempts = 3;
  return o;
}

// Where one is to come, and the machine may be busy with other tests.
SessionOptions patient() {
  SessionOptions o;
  o.timing.retry = 60;
  o.timing.attempts = 200;
  o.reconnect = std::chrono::seconds{30};
  return o;
}

std::string identify_problem(const std::string& port) {
  return problem_of([&] { Session{port, some_keys(), quick()}.identify(); });
}

TEST(Line, AJackAnswers) {
  FakeJack jack{Manner::answers};
  Session session{jack.name(), some_keys(), patient()};
  EXPECT_EQ(session.identify().jack_serial(), FakeJack::serial);
  session.must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
  EXPECT_EQ(session.peer().status()->utc_s(), 1777879800U);
}

TEST(Line, AbsentPort) {
  expect_part(identify_problem("/dev/ttyACM987"), "is not there; plug the cable in");
}

TEST(Line, WhatIsNoSerialPort) {
  expect_part(identify_problem("/dev/null"), "is no serial port");
}

TEST(Line, SilentPort) {
  FakeJack jack{Manner::silent};
  const auto message = identify_problem(jack.name());
  expect_part(message, "silent for 0.2 s");
  expect_part(message, "is the jack switched on");
}

TEST(Line, SomethingElseAnswers) {
  FakeJack jack{Manner::noise};
  expect_part(identify_problem(jack.name()), "not in this protocol");
}

TEST(Line, BusyPort) {
  FakeJack jack{Manner::answers};
  Session holds_it{jack.name(), some_keys(), patient()};
  expect_part(identify_problem(jack.name()), "in use by another program");
}

// As root, permission is not asked for: the test becomes nobody while it opens the port.
TEST(Line, NoPermission) {
  FakeJack jack{Manner::answers};
  ASSERT_EQ(::chmod(jack.name().c_str(), 0), 0);
  const bool root = ::geteuid() == 0;
  constexpr uid_t nobody = 65534;
  if (root) {
    ASSERT_EQ(::seteuid(nobody), 0);
  }
  const auto message = identify_problem(jack.name());
  if (root) {
    ASSERT_EQ(::seteuid(0), 0);
  }
  expect_part(message, "add yourself to the group dialout");
}

TEST(Line, APulledCableComesBack) {
  auto first = std::make_unique<FakeJack>(Manner::answers);
  std::vector<std::string> news;
  auto options = patient();
  options.tell = [&](const std::string& text) { news.push_back(text); };
  Session session{first->name(), some_keys(), options};
  session.identify();

  first->unplug();
  std::unique_ptr<FakeJack> second;
  std::jthread person{[&] {
    std::this_thread::sleep_for(std::chrono::milliseconds{500});
    second = std::make_unique<FakeJack>(Manner::answers, first->name());
  }};
  session.must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
  person.join();
  EXPECT_EQ(session.peer().status()->utc_s(), 1777879800U);
  EXPECT_EQ(second->identified(), 1);  // a new session was opened, without being asked for
  ASSERT_EQ(news.size(), 2U);
  expect_part(news[0], "line lost");
  expect_part(news[1], "line is back");
}

// What is due to one jack never reaches another that was put on its line.
TEST(Line, ACableThatComesBackAtAnotherJackIsNotTaken) {
  auto first = std::make_unique<FakeJack>(Manner::answers);
  Session session{first->name(), some_keys(), patient()};
  session.identify();
  first->unplug();
  const FakeJack second{Manner::answers, first->name(), FakeJack::serial + 1};
  const auto message = problem_of(
      [&] { session.must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); }); });
  expect_part(message, "jack 1002 answers, not jack 1001: check which cable goes where");
  EXPECT_FALSE(session.peer().status());
}

TEST(Line, ACableThatStaysAwayEndsTheCommand) {
  auto jack = std::make_unique<FakeJack>(Manner::answers);
  auto options = patient();
  options.reconnect = std::chrono::seconds{1};
  Session session{jack->name(), some_keys(), options};
  session.identify();
  jack->unplug();
  const auto message = problem_of([&] { session.identify(); });
  expect_part(message, "did not come back in 1 s");
}

TEST(Line, TcpIsSpokenToThisComputerOnly) {
  expect_part(identify_problem("tcp://192.0.2.1:4000"),
              "only this computer");  // RFC 5737 documentation address
  expect_part(identify_problem("tcp://127.0.0.1:0"), "write tcp://127.0.0.1:PORT");
  expect_part(identify_problem("tcp://127.0.0.1:40x"), "write tcp://127.0.0.1:PORT");
}

TEST(Line, TcpWhereNobodyListensAndWhereSomebodyDoes) {
  const int listener = ::socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in at{};
  at.sin_family = AF_INET;
  at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof at;
  ASSERT_EQ(::bind(listener, reinterpret_cast<sockaddr*>(&at), size), 0);
  ASSERT_EQ(::getsockname(listener, reinterpret_cast<sockaddr*>(&at), &size), 0);
  const std::string port = "tcp://127.0.0.1:" + std::to_string(ntohs(at.sin_port));
  expect_part(identify_problem(port), "nobody answers there");
  ASSERT_EQ(::listen(listener, 1), 0);
  expect_part(identify_problem(port), "silent for 0.2 s");
  ::close(listener);
}

}  // namespace
}  // namespace strandproof::host::link
