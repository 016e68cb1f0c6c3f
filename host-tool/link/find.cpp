#include <fmt/core.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "host-tool/base/problem.hpp"
#include "host-tool/link/line.hpp"

namespace strandproof::host::link {

FoundPort look_at(const std::string& name);  // line.cpp: it opens the port

namespace {

namespace fs = std::filesystem;

constexpr const char* simulated_link = "/tmp/strandproof-jack";

void add_matching(const fs::path& folder, std::string_view prefix, std::vector<std::string>& into) {
  std::error_code absent;
  for (const auto& entry : fs::directory_iterator{folder, absent}) {
    if (entry.path().filename().string().starts_with(prefix)) into.push_back(entry.path().string());
  }
}

}  // namespace

std::vector<FoundPort> find_ports() {
  std::vector<std::string> names;
  add_matching("/dev/serial/by-id", "", names);
  if (names.empty()) {
    add_matching("/dev", "ttyACM", names);
    add_matching("/dev", "ttyUSB", names);
  }
  std::error_code absent;
  if (fs::is_symlink(simulated_link, absent) && fs::exists(simulated_link, absent))
    names.emplace_back(simulated_link);
  std::sort(names.begin(), names.end());
  std::vector<FoundPort> found;
  for (const auto& name : names) found.push_back(look_at(name));
  return found;
}

std::string choose_port(const std::string& named) {
  if (!named.empty()) return named;
  if (const char* set = std::getenv("STRANDPROOF_PORT"); set != nullptr && set[0] != '\0') return set;
  const auto found = find_ports();
  if (found.size() == 1) return found[0].name;
  std::string list;
  for (const auto& port : found) list += " " + port.name;
  throw bad_input(found.empty() ? "no port found; plug the cable in, or give --port"
                                : fmt::format("{} ports found; name one with --port:{}", found.size(), list));
}

}  // namespace strandproof::host::link
