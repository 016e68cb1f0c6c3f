#include "sim/board/flash.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <stdexcept>

namespace strandproof::sim {

SimFlash::SimFlash() : image_(bytes, 0xFF) {}

SimFlash::~SimFlash() {
  if (file_ >= 0) {
    ::close(file_);
  }
}

void SimFlash::keep_in(const std::string& path) {
  file_ = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (file_ < 0) {
    throw std::runtime_error(path + ": can not open the flash file: " + std::strerror(errno) +
                             "; name a file in a folder that you may write");
  }
  if (::flock(file_, LOCK_EX | LOCK_NB) != 0) {
    throw std::runtime_error(path + ": another simulated jack is using this flash file; stop it first");
  }
  struct stat about {};
  if (::fstat(file_, &about) != 0 || (about.st_size != 0 && about.st_size != bytes)) {
    throw std::runtime_error(path + ": not a flash file of " + std::to_string(bytes) +
                             " bytes; name another file");
  }
  if (about.st_size == 0) {
    if (!write_through(0, bytes)) {
      throw std::runtime_error(path + ": can not write the flash file; free some space");
    }
  } else if (::pread(file_, image_.data(), bytes, 0) != static_cast<ssize_t>(bytes)) {
    throw std::runtime_error(path + ": can not read the flash file; name another file");
  }
  written_.fill(page);
}

bool SimFlash::write_through(std::uint32_t address, std::size_t length) {
  return file_ < 0 || ::pwrite(file_, &image_[address], length, address) == static_cast<ssize_t>(length);
}

bool SimFlash::read(std::uint32_t address, std::span<std::uint8_t> into) const {
  if (address > bytes || into.size() > bytes - address) {
    return false;
  }
  std::copy_n(image_.begin() + address, into.size(), into.begin());
  return true;
}

bool SimFlash::program(std::uint32_t address, std::span<const std::uint8_t> data) {
  const bool inside = address <= bytes && data.size() <= bytes - address;
  if (!inside || address % word != 0 || data.size() % word != 0) {
    ++violations_;
    return false;
  }
  for (std::size_t i = 0; i < data.size(); ++i) {
    if ((data[i] & ~image_[address + i]) != 0) {
      ++violations_;
      return false;
    }
  }
  std::copy(data.begin(), data.end(), image_.begin() + address);
  const auto end = address + static_cast<std::uint32_t>(data.size());
  for (std::uint32_t n = address / page; n * page < end; ++n) {
    written_[n] = std::max(written_[n], std::min(end - n * page, page));
  }
  return write_through(address, data.size());
}

bool SimFlash::erase(std::uint32_t page_address) {
  if (page_address >= bytes || page_address % page != 0) {
    ++violations_;
    return false;
  }
  std::uint32_t& written = written_[page_address / page];
  std::fill_n(image_.begin() + page_address, written, std::uint8_t{0xFF});
  written = 0;
  return write_through(page_address, page);
}

}  // namespace strandproof::sim
