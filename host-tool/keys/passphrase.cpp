#include "host-tool/keys/passphrase.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <sodium.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <string_view>

#include "host-tool/base/problem.hpp"
#include "host-tool/keys/private_file.hpp"

namespace strandproof::host::keys {
namespace {

// The controlling terminal, so that standard input may be a pipe; without echo until it goes.
class QuietTerminal {
 public:
  QuietTerminal() : fd_{::open("/dev/tty", O_RDWR | O_NOCTTY | O_CLOEXEC)} {
    if (fd_ < 0 || ::tcgetattr(fd_, &before_) != 0) return;
    termios quiet = before_;
    quiet.c_lflag &= ~static_cast<tcflag_t>(ECHO);
    changed_ = ::tcsetattr(fd_, TCSAFLUSH, &quiet) == 0;
  }
  QuietTerminal(const QuietTerminal&) = delete;
  QuietTerminal& operator=(const QuietTerminal&) = delete;
  ~QuietTerminal() {
    if (changed_) ::tcsetattr(fd_, TCSAFLUSH, &before_);
    if (fd_ >= 0) ::close(fd_);
  }

  // Without a terminal, or with one whose echo can not be stopped, nothing is asked.
  [[nodiscard]] bool usable() const { return changed_; }

  std::string ask(const std::string& prompt) {
    put(prompt + ": ");
    std::string line;
    char c = 0;
    while (line.size() <= passphrase_max) {
      const ssize_t got = ::read(fd_, &c, 1);
      if (got < 0 && errno == EINTR) continue;
      if (got <= 0 || c == '\n') break;
      line += c;
    }
    put("\n");
    return line;
  }

 private:
  // A prompt that does not come out leaves the person without it, and nothing else.
  void put(std::string_view text) {
    while (!text.empty()) {
      const ssize_t n = ::write(fd_, text.data(), text.size());
      if (n <= 0) return;
      text.remove_prefix(static_cast<std::size_t>(n));
    }
  }

  int fd_;
  termios before_{};
  bool changed_ = false;
};

std::string file_of(const std::string& named) {
  if (!named.empty()) return named;
  const char* of_environment = std::getenv("STRANDPROOF_PASSPHRASE_FILE");
  return of_environment == nullptr ? std::string{} : of_environment;
}

Secret checked(std::string text, std::size_t least, const std::string& where) {
  Secret secret{std::move(text)};
  const auto n = secret.bytes().size();
  if (n < least) {
    throw bad_input(
        least > 1 ? fmt::format("{}: a passphrase has at least {} characters; take some words", where, least)
                  : where + ": holds no passphrase in its first line; put one there");
  }
  if (n > passphrase_max)
    throw bad_input(fmt::format("{}: longer than {} characters; take a shorter one", where, passphrase_max));
  return secret;
}

Secret from_file(const std::string& file, std::size_t least) {
  std::string text = read_private(file, "name the file that holds the passphrase");
  if (const auto end = text.find('\n'); end != std::string::npos) {
    sodium_memzero(text.data() + end, text.size() - end);
    text.resize(end);
  }
  if (text.ends_with('\r')) text.pop_back();  // of a file with the line ends of another system
  return checked(std::move(text), least, file);
}

Problem no_terminal() {
  return bad_input(
      "no terminal to ask for the passphrase; give --passphrase-file FILE or set "
      "STRANDPROOF_PASSPHRASE_FILE");
}

}  // namespace

Secret::Secret(Secret&& other) noexcept : bytes_{other.bytes_} {
  sodium_memzero(other.bytes_.data(), other.bytes_.size());
  other.bytes_.clear();
}

Secret::~Secret() {
  sodium_memzero(bytes_.data(), bytes_.size());
}

Secret ask_passphrase(const std::string& named, const std::string& prompt) {
  if (const std::string file = file_of(named); !file.empty()) return from_file(file, 1);
  QuietTerminal terminal;
  if (!terminal.usable()) throw no_terminal();
  return checked(terminal.ask(prompt), 1, "the passphrase");
}

Secret ask_new_passphrase(const std::string& named, const std::string& prompt) {
  if (const std::string file = file_of(named); !file.empty()) return from_file(file, passphrase_min);
  QuietTerminal terminal;
  if (!terminal.usable()) throw no_terminal();
  auto first = checked(terminal.ask(prompt), passphrase_min, "the new passphrase");
  const Secret again{terminal.ask(prompt + ", again")};
  if (first.bytes() != again.bytes()) throw bad_input("the two passphrases differ; nothing has been changed");
  return first;
}

}  // namespace strandproof::host::keys
