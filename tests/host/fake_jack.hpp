// A jack at the other end of a pseudo-terminal, for the transport only: answers identify and status, or does
// what it is told to do wrong. It shares the frame codec with the tool; the codec has its own tests.
// Its port is a link of its own, as a device node is: it goes before the terminal does. The number of a
// closed pseudo-terminal is given to the next program that asks, such as a test that runs beside this one.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "proto/frame.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::test {

enum class Manner { answers, silent, noise };

class FakeJack {
 public:
  explicit FakeJack(Manner manner) : FakeJack{manner, new_name()} {}
  FakeJack(Manner manner, std::string name, std::uint32_t jack = serial)
      : manner_{manner}, jack_{jack}, master_{::posix_openpt(O_RDWR | O_NOCTTY)}, name_{std::move(name)} {
    grantpt(master_);
    unlockpt(master_);
    const std::string terminal = ptsname(master_);
    // Raw from the start: a terminal that echoes would send the host its own frames.
    const int slave = ::open(terminal.c_str(), O_RDWR | O_NOCTTY);
    termios mode{};
    tcgetattr(slave, &mode);
    cfmakeraw(&mode);
    tcsetattr(slave, TCSANOW, &mode);
    ::close(slave);
    std::filesystem::create_symlink(terminal, name_);
    thread_ = std::thread{[this] { run(); }};
  }
  FakeJack(const FakeJack&) = delete;
  FakeJack& operator=(const FakeJack&) = delete;
  ~FakeJack() { unplug(); }

  // The cable is pulled: the port is gone for whoever holds it open.
  void unplug() {
    if (master_ < 0) return;
    std::filesystem::remove(name_);
    stop_ = true;
    thread_.join();
    ::close(master_);
    master_ = -1;
  }

  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] int identified() const { return identified_; }

  static constexpr std::uint32_t serial = 1001;

 private:
  static std::string new_name() {
    static int made = 0;
    return testing::TempDir() + "jack-" + std::to_string(::getpid()) + "-" + std::to_string(++made);
  }

  void run() {
    while (!stop_) {
      pollfd ready{master_, POLLIN, 0};
      if (::poll(&ready, 1, 10) <= 0 || (ready.revents & POLLIN) == 0) {
        if ((ready.revents & POLLHUP) != 0) ::usleep(5000);  // nobody holds the port open
        continue;
      }
      std::array<std::uint8_t, 256> block{};
      const ssize_t got = ::read(master_, block.data(), block.size());
      for (ssize_t i = 0; i < got; ++i) take(block[static_cast<std::size_t>(i)]);
      if (got > 0 && manner_ == Manner::noise) put({1, 2, 3, 4, 5, 6, 7, 0});
    }
  }

  void take(std::uint8_t byte) {
    if (!decoder_.push(byte) || manner_ != Manner::answers) return;
    if (decoder_.frame().header.type == proto::FrameType::identify) {
      ++identified_;
      wire::Identity id;
      id.set_protocol_major(proto::protocol_major);
      id.set_jack_serial(jack_);
      id.set_origin(1);
      id.set_boot(1);
      id.set_nonce(std::string(16, 'n'));
      answer(proto::FrameType::identity, id.SerializeAsString());
    } else if (decoder_.frame().header.type == proto::FrameType::status_get) {
      wire::Status status;
      status.set_utc_s(1777879800);
      answer(proto::FrameType::status, status.SerializeAsString());
    }
  }

  void answer(proto::FrameType type, const std::string& payload) {
    std::vector<std::uint8_t> frame(proto::frame_max);
    const std::size_t n =
        proto::encode_frame({.type = type, .device = jack_, .session = 7, .sequence = ++sequence_},
                            {reinterpret_cast<const std::uint8_t*>(payload.data()), payload.size()}, frame);
    frame.resize(n);
    put(frame);
  }

  void put(const std::vector<std::uint8_t>& bytes) {
    std::size_t done = 0;
    while (done < bytes.size()) {
      const ssize_t n = ::write(master_, bytes.data() + done, bytes.size() - done);
      if (n <= 0) return;
      done += static_cast<std::size_t>(n);
    }
  }

  Manner manner_;
  std::uint32_t jack_;
  int master_;
  std::string name_;
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> buffer_{};
  proto::FrameDecoder decoder_{buffer_};
  std::uint32_t sequence_ = 0;
  std::atomic<bool> stop_{false};
  std::atomic<int> identified_{0};
  std::thread thread_;
};

}  // namespace strandproof::host::test
