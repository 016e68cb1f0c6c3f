// Byte streams of the simulated jack to the outside: a pseudo-terminal with a stable link, a TCP port on
// the loopback, and a local socket for the operator. All non-blocking, one client each at a time.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace strandproof::sim {

// An open descriptor; closed with its owner.
class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int fd) : fd_{fd} {}
  ~Descriptor();
  Descriptor(Descriptor&& other) noexcept;
  Descriptor& operator=(Descriptor&& other) noexcept;
  [[nodiscard]] int get() const { return fd_; }
  [[nodiscard]] bool open() const { return fd_ >= 0; }

 private:
  int fd_ = -1;
};

// The serial line as a host sees it.
class SerialLine {
 public:
  virtual ~SerialLine() = default;
  // What the host has sent since; nothing if nobody is there.
  virtual std::vector<std::uint8_t> read() = 0;
  // Bytes for which there is no room or no reader are lost, as on a cable.
  virtual void write(std::span<const std::uint8_t> bytes) = 0;
  [[nodiscard]] virtual std::string name() const = 0;
};

// Makes a pseudo-terminal and a symbolic link to it, removed again at the end. Throws std::runtime_error
// if the link's place is taken by something that is not such a link.
std::unique_ptr<SerialLine> open_pseudo_terminal(const std::string& link);
// Listens on 127.0.0.1 only. Throws std::runtime_error if the port is taken.
std::unique_ptr<SerialLine> open_tcp(std::uint16_t port);

// Lines of text from one client of a local socket; a later client replaces the earlier.
class CommandSocket {
 public:
  explicit CommandSocket(const std::string& path);  // throws std::runtime_error
  ~CommandSocket();
  CommandSocket(const CommandSocket&) = delete;
  CommandSocket& operator=(const CommandSocket&) = delete;

  // The next whole line, without its end.
  std::optional<std::string> line();
  void answer(const std::string& text);

 private:
  std::string path_;
  Descriptor listener_, client_;
  std::string received_;
};

// For the command `operate`: sends one line and returns the answer. Throws std::runtime_error.
std::string ask(const std::string& path, const std::string& line);

}  // namespace strandproof::sim
