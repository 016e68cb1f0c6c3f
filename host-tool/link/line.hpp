// A byte line to a jack: a serial port (or a pseudo-terminal in its place), or TCP on the loopback. Asio is
// seen in line.cpp only.
#pragma once

#include <chrono>
#include <cstdint>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

namespace strandproof::host::link {

// The cable was pulled, the port vanished, or the other end closed.
class LineLost : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

class Line {
 public:
  Line() = default;
  Line(const Line&) = delete;
  Line& operator=(const Line&) = delete;
  virtual ~Line() = default;

  // Queues bytes; they go out while wait() runs.
  virtual void send(const std::vector<std::uint8_t>& bytes) = 0;

  // Bytes that came within the time; empty if none. Throws LineLost.
  virtual std::vector<std::uint8_t> wait(std::chrono::milliseconds longest) = 0;

  // What could not be set on the port, one line each: a pseudo-terminal knows no baud rate.
  [[nodiscard]] virtual const std::vector<std::string>& warnings() const = 0;
};

// port: a device such as /dev/serial/by-id/..., or tcp://127.0.0.1:PORT. Takes the port for this program
// alone. Throws Problem (fault) with one line: absent, busy, without permission (and the remedy), no serial
// port, refused connection, or an address that is not of this computer.
std::unique_ptr<Line> open_line(const std::string& port);

struct FoundPort {
  std::string name;
  std::string state;  // "free", "in use by another program", "no permission", ...
  bool free;
};

// Serial devices that could be a jack: /dev/serial/by-id first, else /dev/ttyACM* and /dev/ttyUSB*, and the
// simulated jack's link if it is there. Opens and closes each to see whether it is free.
std::vector<FoundPort> find_ports();

// The port to use: the one that was named, else $STRANDPROOF_PORT, else the only one found. Throws Problem
// (fault) listing what was found.
std::string choose_port(const std::string& named);

}  // namespace strandproof::host::link
