#include "host-tool/keys/keys.hpp"

#include <fmt/core.h>
#include <sodium.h>

#include <algorithm>
#include <charconv>
#include <filesystem>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/keys/private_file.hpp"

namespace strandproof::host::keys {
namespace {

namespace fs = std::filesystem;

constexpr unsigned owner_only = 0600;

std::string path(const std::string& folder, const char* name) {
  return (fs::path{folder} / name).string();
}

std::string random_hex() {
  std::string bytes(32, '\0');
  randombytes_buf(bytes.data(), bytes.size());
  return to_hex(bytes);
}

proto::Key read_key(const std::string& file) {
  const auto bytes =
      from_hex(first_line(read_private(file, "make this host's keys with 'strandproof key new'")));
  if (!bytes || bytes->size() != 32)
    throw bad_input(file + ": damaged; restore it, or make new keys and pair again");
  proto::Key key{};
  std::copy(bytes->begin(), bytes->end(), reinterpret_cast<char*>(key.data()));
  return key;
}

bool good_name(const std::string& name) {
  return !name.empty() && name.size() <= 31 &&
         std::all_of(name.begin(), name.end(), [](char c) { return c >= ' ' && c <= '~'; });
}

}  // namespace

void make(const std::string& folder, const std::string& name) {
  if (sodium_init() < 0) throw bad_input("no random source on this computer; keys can not be made");
  if (!good_name(name)) throw bad_input("the host's name has 1 to 31 plain ASCII characters; give --name");
  if (fs::exists(path(folder, "host.id"))) {
    throw refused(folder + ": keys are there already and are never written over; move them away first");
  }
  std::error_code error;
  fs::create_directories(folder, error);
  fs::permissions(folder, fs::perms::owner_all, error);
  if (error)
    throw bad_input(
        fmt::format("{}: can not be made: {}; name another folder with --keys", folder, error.message()));
  // Not 0: the wire takes that for "no host".
  const std::uint64_t id = (std::uint64_t{randombytes_random()} << 32U | randombytes_random()) | 1U;
  // A key without its host.id is of an attempt that ended between the two: it is kept, not written over.
  const std::string key = path(folder, "pairing.key");
  if (fs::exists(key)) {
    (void)read_key(key);
  } else {
    write_file(key, random_hex() + "\n", owner_only);
  }
  write_file(path(folder, "host.id"), fmt::format("{} {}\n", id, name), owner_only);
}

proto::HostKeys load(const std::string& folder) {
  const std::string file = path(folder, "host.id");
  const std::string line = first_line(read_private(file, "make this host's keys with 'strandproof key new'"));
  proto::HostKeys host;
  const auto [stop, error] = std::from_chars(line.data(), line.data() + line.size(), host.host_id);
  const auto at = static_cast<std::size_t>(stop - line.data());
  if (error != std::errc{} || host.host_id == 0 || at >= line.size() || line[at] != ' ' ||
      !good_name(line.substr(at + 1))) {
    throw bad_input(file + ": damaged; restore it, or make new keys and pair again");
  }
  host.name = line.substr(at + 1);
  host.key = read_key(path(folder, "pairing.key"));
  return host;
}

}  // namespace strandproof::host::keys
