#include "sim/main/lines.hpp"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <stdexcept>
#include <utility>

namespace strandproof::sim {

Descriptor::~Descriptor() {
  if (fd_ >= 0) {
    ::close(fd_);
  }
}
Descriptor::Descriptor(Descriptor&& other) noexcept : fd_{std::exchange(other.fd_, -1)} {}
Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
  std::swap(fd_, other.fd_);
  return *this;
}

namespace {

[[noreturn]] void fail(const std::string& where, const std::string& what, const std::string& remedy) {
  throw std::runtime_error(where + ": " + what + ": " + std::strerror(errno) + "; " + remedy);
}

std::vector<std::uint8_t> read_some(int fd, bool& gone) {
  std::vector<std::uint8_t> bytes(4096);
  const ssize_t n = ::read(fd, bytes.data(), bytes.size());
  gone = n == 0 || (n < 0 && errno != EAGAIN && errno != EINTR);
  bytes.resize(n > 0 ? static_cast<std::size_t>(n) : 0);
  return bytes;
}

class PseudoTerminal final : public SerialLine {
 public:
  explicit PseudoTerminal(std::string link)
      : link_{std::move(link)}, master_{::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC)} {
    if (!master_.open() || ::grantpt(master_.get()) != 0 || ::unlockpt(master_.get()) != 0) {
      fail(link_, "can not make a pseudo-terminal", "mount /dev/pts, or use --tcp");
    }
    std::string slave(128, '\0');
    if (::ptsname_r(master_.get(), slave.data(), slave.size()) != 0) {
      fail(link_, "the pseudo-terminal has no name", "use --tcp");
    }
    slave.resize(slave.find('\0'));
    make_raw(slave);
    place_link(slave);
  }
  ~PseudoTerminal() override {
    if (linked_) {
      ::unlink(link_.c_str());
      ::unlink(lock_name().c_str());
    }
  }
  PseudoTerminal(const PseudoTerminal&) = delete;
  PseudoTerminal& operator=(const PseudoTerminal&) = delete;

  std::vector<std::uint8_t> read() override {
    bool gone = false;
    return read_some(master_.get(), gone);  // EIO while no host has it open: that is a cable unplugged
  }
  void write(std::span<const std::uint8_t> bytes) override {
    if (host_present() && ::write(master_.get(), bytes.data(), bytes.size()) < 0) {
      return;  // no room: lost, as on a cable nobody reads
    }
  }
  [[nodiscard]] std::string name() const override { return link_; }

 private:
  // Bytes written while no host has it open would wait for the next one: a real line forgets them.
  [[nodiscard]] bool host_present() const {
    pollfd asked{master_.get(), POLLOUT, 0};
    return ::poll(&asked, 1, 0) == 1 && (asked.revents & POLLHUP) == 0;
  }
  static void make_raw(const std::string& slave) {
    const Descriptor opened(::open(slave.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC));
    termios settings{};
    if (!opened.open() || ::tcgetattr(opened.get(), &settings) != 0) {
      fail(slave, "can not set up the pseudo-terminal", "use --tcp");
    }
    ::cfmakeraw(&settings);
    ::tcsetattr(opened.get(), TCSANOW, &settings);
  }
  void place_link(const std::string& slave) {
    struct stat about {};
    if (::lstat(link_.c_str(), &about) == 0) {
      if (!S_ISLNK(about.st_mode)) {
        throw std::runtime_error(link_ + ": is there already and is no link; name another place with --link");
      }
    }
    take_lock();
    ::unlink(link_.c_str());  // left over: nobody holds it
    if (::symlink(slave.c_str(), link_.c_str()) != 0) {
      fail(link_, "can not place the link", "name a place in a folder that you may write with --link");
    }
    linked_ = true;
  }

  // Held as long as this program lives, however it ends. What the link points at says nothing: the number of
  // a pseudo-terminal is soon another terminal's.
  void take_lock() {
    lock_ = Descriptor(::open(lock_name().c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666));
    if (!lock_.open()) {
      fail(link_, "can not place the link", "name a place in a folder that you may write with --link");
    }
    if (::flock(lock_.get(), LOCK_EX | LOCK_NB) != 0) {
      throw std::runtime_error(link_ +
                               ": another simulated jack has this link; stop it or name another with --link");
    }
  }
  [[nodiscard]] std::string lock_name() const { return link_ + ".lock"; }

  std::string link_;
  Descriptor master_, lock_;
  bool linked_ = false;
};

class TcpLine final : public SerialLine {
 public:
  explicit TcpLine(std::uint16_t port)
      : name_{"tcp://127.0.0.1:" + std::to_string(port)},
        listener_{::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0)} {
    const int yes = 1;
    ::setsockopt(listener_.get(), SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    sockaddr_in at{};
    at.sin_family = AF_INET;
    at.sin_port = htons(port);
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (!listener_.open() ||
        ::bind(listener_.get(), reinterpret_cast<const sockaddr*>(&at), sizeof at) != 0 ||
        ::listen(listener_.get(), 1) != 0) {
      fail(name_, "can not listen", "choose another port with --tcp");
    }
  }
  std::vector<std::uint8_t> read() override {
    accept_newest();
    if (!client_.open()) {
      return {};
    }
    bool gone = false;
    std::vector<std::uint8_t> bytes = read_some(client_.get(), gone);
    if (gone) {
      client_ = Descriptor();
    }
    return bytes;
  }
  void write(std::span<const std::uint8_t> bytes) override {
    if (client_.open() && ::send(client_.get(), bytes.data(), bytes.size(), MSG_NOSIGNAL) < 0 &&
        errno != EAGAIN) {
      client_ = Descriptor();
    }
  }
  [[nodiscard]] std::string name() const override { return name_; }

 private:
  void accept_newest() {
    const int fd = ::accept4(listener_.get(), nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC);
    if (fd >= 0) {
      client_ = Descriptor(fd);
      const int yes = 1;
      ::setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    }
  }
  std::string name_;
  Descriptor listener_, client_;
};

sockaddr_un address_of(const std::string& path) {
  sockaddr_un at{};
  at.sun_family = AF_UNIX;
  if (path.size() >= sizeof at.sun_path) {
    throw std::runtime_error(path + ": too long for a local socket; name a shorter place");
  }
  std::memcpy(at.sun_path, path.c_str(), path.size() + 1);
  return at;
}

}  // namespace

std::unique_ptr<SerialLine> open_pseudo_terminal(const std::string& link) {
  return std::make_unique<PseudoTerminal>(link);
}
std::unique_ptr<SerialLine> open_tcp(std::uint16_t port) {
  return std::make_unique<TcpLine>(port);
}

CommandSocket::CommandSocket(const std::string& path)
    : path_{path}, listener_{::socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0)} {
  const sockaddr_un at = address_of(path);
  const Descriptor probe(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0));
  if (::connect(probe.get(), reinterpret_cast<const sockaddr*>(&at), sizeof at) == 0) {
    throw std::runtime_error(
        path +
        ": another simulated jack answers here; stop it, or name another place with --link or --operator");
  }
  struct stat about {};
  if (::lstat(path.c_str(), &about) == 0 && S_ISSOCK(about.st_mode)) {
    ::unlink(path.c_str());  // left over: nobody answers
  }
  if (::bind(listener_.get(), reinterpret_cast<const sockaddr*>(&at), sizeof at) != 0 ||
      ::chmod(path.c_str(), 0600) != 0 || ::listen(listener_.get(), 1) != 0) {
    fail(path, "can not open the operator channel",
         "name a place in a folder that you may write with --operator");
  }
}

CommandSocket::~CommandSocket() {
  ::unlink(path_.c_str());
}

std::optional<std::string> CommandSocket::line() {
  const int fd = ::accept4(listener_.get(), nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC);
  if (fd >= 0) {
    client_ = Descriptor(fd);
    received_.clear();
  }
  if (client_.open()) {
    bool gone = false;
    const std::vector<std::uint8_t> bytes = read_some(client_.get(), gone);
    received_.append(bytes.begin(), bytes.end());
    if (gone || received_.size() > 65536) {
      client_ = Descriptor();
    }
  }
  const auto end = received_.find('\n');
  if (end == std::string::npos) {
    return std::nullopt;
  }
  std::string line = received_.substr(0, end);
  received_.erase(0, end + 1);
  if (!line.empty() && line.back() == '\r') {
    line.pop_back();
  }
  return line;
}

void CommandSocket::answer(const std::string& text) {
  const std::string line = text + '\n';
  if (client_.open() && ::send(client_.get(), line.data(), line.size(), MSG_NOSIGNAL) < 0) {
    client_ = Descriptor();
  }
}

std::string ask(const std::string& path, const std::string& line) {
  const sockaddr_un at = address_of(path);
  const Descriptor socket(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0));
  if (::connect(socket.get(), reinterpret_cast<const sockaddr*>(&at), sizeof at) != 0) {
    fail(path, "no simulated jack answers", "start one with `strandproof-sim serve`");
  }
  const std::string sent = line + '\n';
  if (::send(socket.get(), sent.data(), sent.size(), MSG_NOSIGNAL) != static_cast<ssize_t>(sent.size())) {
    fail(path, "the simulated jack does not listen", "start it again");
  }
  std::string answer;
  char letter = 0;
  while (::read(socket.get(), &letter, 1) == 1) {
    if (letter == '\n') {
      return answer;
    }
    answer += letter;
  }
  throw std::runtime_error(path + ": the simulated jack ended before it answered; look at its own output");
}

}  // namespace strandproof::sim
