#include "host-tool/base/files.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <sodium.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <utility>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host {
namespace {

constexpr std::size_t longest_file = 64U << 20U;

Problem failed(const std::string& path, const char* verb, int error) {
  const char* remedy = error == ENOENT   ? "check the name"
                       : error == EACCES ? "check its permissions"
                       : error == ENOSPC ? "free space on the disk"
                                         : "check the disk";
  return bad_input(fmt::format("{}: can not be {}: {}; {}", path, verb, std::strerror(error), remedy));
}

// Closes its descriptor on every way out.
class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_{fd} {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  [[nodiscard]] int get() const { return fd_; }

 private:
  int fd_;
};

std::string read_all(int fd, const std::string& path) {
  std::string text;
  std::array<char, 65536> block{};
  while (true) {
    const ssize_t got = ::read(fd, block.data(), block.size());
    if (got < 0) throw failed(path, "read", errno);
    if (got == 0) return text;
    text.append(block.data(), static_cast<std::size_t>(got));
    if (text.size() > longest_file) throw bad_input(path + ": longer than 64 MiB; that is none of our files");
  }
}

void write_all(int fd, std::string_view text, const std::string& path) {
  while (!text.empty()) {
    const ssize_t put = ::write(fd, text.data(), text.size());
    if (put < 0) throw failed(path, "written", errno);
    text.remove_prefix(static_cast<std::size_t>(put));
  }
  // A pipe or a terminal can not be flushed to a disk and says EINVAL.
  if (::fsync(fd) != 0 && errno != EINVAL) throw failed(path, "written", errno);
}

}  // namespace

std::string read_file(const std::string& path) {
  if (path == "-") return read_all(STDIN_FILENO, "standard input");
  const Descriptor file{::open(path.c_str(), O_RDONLY | O_CLOEXEC)};
  if (file.get() < 0) throw failed(path, "read", errno);
  return read_all(file.get(), path);
}

void write_file(const std::string& path, std::string_view text, unsigned mode) {
  std::string beside = path + ".XXXXXX";
  const Descriptor file{::mkostemp(beside.data(), O_CLOEXEC)};
  if (file.get() < 0) throw failed(path, "written", errno);
  try {
    if (::fchmod(file.get(), mode) != 0) throw failed(path, "written", errno);
    write_all(file.get(), text, path);
    if (::rename(beside.c_str(), path.c_str()) != 0) throw failed(path, "written", errno);
  } catch (...) {
    ::unlink(beside.c_str());
    throw;
  }
  flush_folder_of(path);
}

void flush_to_disk(const std::string& path) {
  const Descriptor opened{::open(path.c_str(), O_RDONLY | O_CLOEXEC)};
  if (opened.get() < 0 || ::fsync(opened.get()) != 0) throw failed(path, "written to the disk", errno);
}

void flush_folder_of(const std::string& path) {
  flush_to_disk(std::filesystem::absolute(path).parent_path());
}

void write_output(const std::string& path, std::string_view text, std::string_view mark,
                  const std::string& what) {
  struct stat about {};
  if (::stat(path.c_str(), &about) == 0) {
    constexpr std::size_t looked_at = 4096;
    const bool file = S_ISREG(about.st_mode);
    if (!file ||
        (about.st_size != 0 && read_file(path).substr(0, looked_at).find(mark) == std::string::npos)) {
      throw bad_input(fmt::format("{}: is there already and is not {}; name another file", path, what));
    }
  }
  write_file(path, text);
}

AppendFile::AppendFile(std::string path)
    : path_{std::move(path)}, fd_{::open(path_.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644)} {
  if (fd_ < 0) throw failed(path_, "opened", errno);
  if (::flock(fd_, LOCK_EX | LOCK_NB) != 0) {
    ::close(fd_);
    throw bad_input(path_ + ": another program is writing it; close that program, or name another file");
  }
  try {
    flush_folder_of(path_);  // it may be new
  } catch (...) {
    ::close(fd_);
    throw;
  }
}

AppendFile::~AppendFile() {
  ::close(fd_);
}

std::string AppendFile::text() const {
  if (::lseek(fd_, 0, SEEK_SET) != 0) throw failed(path_, "read", errno);
  return read_all(fd_, path_);
}

void AppendFile::append(std::string_view text) {
  const off_t before = ::lseek(fd_, 0, SEEK_END);
  try {
    write_all(fd_, text, path_);
  } catch (...) {
    if (before < 0 || ::ftruncate(fd_, before) != 0) throw failed(path_, "shortened again", errno);
    throw;
  }
}

void AppendFile::cut(std::size_t size) {
  if (::ftruncate(fd_, static_cast<off_t>(size)) != 0 || ::fsync(fd_) != 0) throw failed(path_, "cut", errno);
}

std::optional<FileOnDisk> file_on_disk(const std::string& path) {
  struct stat is {};
  if (::stat(path.c_str(), &is) != 0) return std::nullopt;
  return FileOnDisk{is.st_dev, is.st_ino};
}

std::filesystem::path data_folder() {
  const char* xdg = std::getenv("XDG_DATA_HOME");
  if (xdg != nullptr && xdg[0] == '/') return std::filesystem::path{xdg} / "strandproof";
  const char* home = std::getenv("HOME");
  if (home == nullptr || home[0] != '/') {
    throw bad_input("neither XDG_DATA_HOME nor HOME is set; set one, or give --archive and --keys");
  }
  return std::filesystem::path{home} / ".local" / "share" / "strandproof";
}

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, crypto_hash_sha256_BYTES> hash{};
  // The address of an empty view may be null; libsodium takes a length of zero then.
  crypto_hash_sha256(hash.data(), reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
  return to_hex({reinterpret_cast<const char*>(hash.data()), hash.size()});
}

}  // namespace strandproof::host
