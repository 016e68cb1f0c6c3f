#include "host-tool/keys/private_file.hpp"

#include <fmt/core.h>
#include <sys/stat.h>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::keys {

std::string read_private(const std::string& file, const std::string& missing) {
  struct stat info {};
  if (::stat(file.c_str(), &info) != 0) throw bad_input(fmt::format("{}: not there; {}", file, missing));
  if ((info.st_mode & 077U) != 0) {
    throw bad_input(
        fmt::format("{}: others may read it; 'chmod 600 {}', and if they could, make it new", file, file));
  }
  return read_file(file);
}

std::string first_line(const std::string& text) {
  return text.substr(0, text.find('\n'));
}

}  // namespace strandproof::host::keys
