// Asio alone in this translation unit: its headers are heavy.
#include "host-tool/link/line.hpp"

#include <fmt/core.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <array>
#include <boost/asio.hpp>
#include <charconv>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::link {
namespace {

namespace asio = boost::asio;
using Error = boost::system::error_code;

constexpr unsigned baud = 115200;

// Reading and writing are the same for both kinds of line: one read and one write are under way at most.
template <class Stream>
class StreamLine final : public Line {
 public:
  explicit StreamLine(const std::string& name) : stream_{context_}, name_{name} {}

  Stream& stream() { return stream_; }
  void warn(const std::string& text) { warnings_.push_back(text); }
  [[nodiscard]] const std::vector<std::string>& warnings() const override { return warnings_; }

  void send(const std::vector<std::uint8_t>& bytes) override {
    waiting_.insert(waiting_.end(), bytes.begin(), bytes.end());
    write_next();
  }

  std::vector<std::uint8_t> wait(std::chrono::milliseconds longest) override {
    const auto until = std::chrono::steady_clock::now() + longest;
    read_next();
    while (received_.empty() && !lost_ && std::chrono::steady_clock::now() < until) {
      context_.restart();
      context_.run_one_until(until);
    }
    if (received_.empty() && lost_) throw LineLost{name_ + ": " + lost_.message()};
    return std::exchange(received_, {});
  }

 private:
  void read_next() {
    if (reading_ || lost_) return;
    reading_ = true;
    stream_.async_read_some(asio::buffer(block_), [this](const Error& error, std::size_t size) {
      reading_ = false;
      if (error) {
        lost_ = error;
      } else {
        received_.insert(received_.end(), block_.begin(), block_.begin() + static_cast<std::ptrdiff_t>(size));
      }
    });
  }

  void write_next() {
    if (!sending_.empty() || waiting_.empty() || lost_) return;
    sending_.swap(waiting_);
    asio::async_write(stream_, asio::buffer(sending_), [this](const Error& error, std::size_t) {
      sending_.clear();
      if (error) lost_ = error;
      write_next();
    });
  }

  asio::io_context context_;
  Stream stream_;
  std::string name_;
  std::vector<std::string> warnings_;
  std::array<std::uint8_t, 4096> block_{};
  std::vector<std::uint8_t> received_;
  std::vector<std::uint8_t> waiting_;
  std::vector<std::uint8_t> sending_;
  bool reading_ = false;
  Error lost_;
};

std::string open_problem(const Error& error) {
  switch (error.value()) {
    case ENOENT:
    case ENXIO:
    case ENODEV:
      return "is not there; plug the cable in, or see 'strandproof ports'";
    case EACCES:
    case EPERM:
      return "no permission; add yourself to the group dialout ('sudo usermod -aG dialout $USER') and log in "
             "again";
    case EBUSY:
      return "in use by another program; close that program";
    case ENOTTY:
      return "is no serial port; see 'strandproof ports'";
    default:
      return error.message() + "; see 'strandproof ports'";
  }
}

// EBUSY if another program holds the port. TIOCEXCL keeps others from opening it from now on; a lock says so
// to those whom TIOCEXCL does not stop (root).
Error take_alone(int fd) {
  if (::flock(fd, LOCK_EX | LOCK_NB) != 0) return {EBUSY, boost::system::system_category()};
  (void)::ioctl(fd, TIOCEXCL);
  return {};
}

Error open_serial(asio::serial_port& port, const std::string& name) {
  Error error;
  port.open(name, error);
  if (!error) error = take_alone(port.native_handle());
  return error;
}

std::unique_ptr<Line> open_serial_line(const std::string& name) {
  auto line = std::make_unique<StreamLine<asio::serial_port>>(name);
  if (const Error error = open_serial(line->stream(), name)) {
    throw bad_input(fmt::format("port {}: {}", name, open_problem(error)));
  }
  const auto set = [&](const auto& option, const char* what) {
    Error error;
    line->stream().set_option(option, error);
    if (error) line->warn(fmt::format("port {}: {} not set ({})", name, what, error.message()));
  };
  using Port = asio::serial_port_base;
  set(Port::baud_rate{baud}, "baud rate");
  set(Port::character_size{8}, "8 bits");
  set(Port::parity{Port::parity::none}, "parity");
  set(Port::stop_bits{Port::stop_bits::one}, "stop bits");
  set(Port::flow_control{Port::flow_control::none}, "flow control");
  return line;
}

constexpr std::string_view tcp_prefix = "tcp://";

std::unique_ptr<Line> open_tcp_line(const std::string& name) {
  const std::string_view address = std::string_view{name}.substr(tcp_prefix.size());
  const auto colon = address.rfind(':');
  unsigned port = 0;
  const std::string_view digits = colon == address.npos ? std::string_view{} : address.substr(colon + 1);
  const auto [stop, bad] = std::from_chars(digits.data(), digits.data() + digits.size(), port);
  const bool whole =
      bad == std::errc{} && stop == digits.data() + digits.size() && port >= 1 && port <= 65535;
  if (!whole || (address.substr(0, colon) != "127.0.0.1" && address.substr(0, colon) != "localhost")) {
    throw bad_input(
        fmt::format("port {}: write tcp://127.0.0.1:PORT; only this computer is spoken to over TCP", name));
  }
  auto line = std::make_unique<StreamLine<asio::ip::tcp::socket>>(name);
  Error error;
  line->stream().connect({asio::ip::address_v4::loopback(), static_cast<std::uint16_t>(port)}, error);
  if (error) {
    throw bad_input(fmt::format("port {}: nobody answers there ({}); start the jack, or check the number",
                                name, error.message()));
  }
  line->stream().set_option(asio::ip::tcp::no_delay{true}, error);
  if (error) line->warn(fmt::format("port {}: no delay not set ({})", name, error.message()));
  return line;
}

}  // namespace

std::unique_ptr<Line> open_line(const std::string& port) {
  return port.starts_with(tcp_prefix) ? open_tcp_line(port) : open_serial_line(port);
}

FoundPort look_at(const std::string& name) {
  asio::io_context context;
  asio::serial_port port{context};
  const Error error = open_serial(port, name);
  return {name, error ? open_problem(error) : "free", !error};
}

}  // namespace strandproof::host::link
