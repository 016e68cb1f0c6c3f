#include "host-tool/archive/place.hpp"

#include <algorithm>
#include <cctype>
#include <optional>
#include <string_view>

#include "host-tool/archive/engine.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

constexpr const char* scheme = "postgresql://";

bool has(std::string_view text, char letter) {
  return text.find(letter) != std::string_view::npos;
}

bool is_hex(char letter) {
  return std::isxdigit(static_cast<unsigned char>(letter)) != 0;
}

// libpq shows what it can not decode.
bool decodes(std::string_view text) {
  for (auto at = text.find('%'); at != std::string_view::npos; at = text.find('%', at + 1)) {
    if (at + 2 >= text.size() || !is_hex(text[at + 1]) || !is_hex(text[at + 2])) return false;
  }
  return true;
}

// "name", "name:5432" or "[::1]:5432".
bool is_host(std::string_view text) {
  const std::size_t from = text.starts_with('[') ? text.find(']') : 0;
  if (from == std::string_view::npos) return false;
  const auto colon = text.find(':', from);
  return colon == std::string_view::npos ||
         std::ranges::all_of(text.substr(colon + 1), [](char c) { return c >= '0' && c <= '9'; });
}

bool are_hosts(std::string_view text) {
  const auto comma = text.find(',');
  return is_host(text.substr(0, comma)) &&
         (comma == std::string_view::npos || are_hosts(text.substr(comma + 1)));
}

bool are_options(std::string_view text) {
  const auto next = text.find('&');
  return has(text.substr(0, next), '=') &&
         (next == std::string_view::npos || are_options(text.substr(next + 1)));
}

// Hosts and database, where every reading of the address gives the same.
std::optional<std::string> clear_part(std::string_view address) {
  address.remove_prefix(address.find("//") + 2);
  if (!decodes(address)) return std::nullopt;
  const auto question = std::min(address.find('?'), address.size());
  const std::string_view before = address.substr(0, question);
  const std::string_view options = address.substr(std::min(question + 1, address.size()));
  const auto slash = std::min(before.find('/'), before.size());
  const auto at = before.find('@');
  const bool one_at = at == std::string_view::npos || (at < slash && before.rfind('@') == at);
  const std::string_view hosts = before.substr(at == std::string_view::npos ? 0 : at + 1);
  if (!one_at || has(options, '@') || !are_hosts(hosts.substr(0, hosts.find('/')))) return std::nullopt;
  if (question != address.size() && !are_options(options)) return std::nullopt;
  return std::string{hosts};
}

// Or what a person meant as one: libpq's list of settings, or a scheme without its strokes. No file is made
// of that name, and none of it is shown.
bool is_address(const std::string& place) {
  return place.find("://") != std::string::npos || place.find("password=") != std::string::npos ||
         place.starts_with("postgresql:") || place.starts_with("postgres:");
}

}  // namespace

std::string shown_place(const std::string& place) {
  if (!is_address(place)) return place;
  const bool ours = engine_of(place) == Engine::postgresql;
  if (ours) return scheme + clear_part(place).value_or("...");
  const auto end = place.find("://");
  return end == std::string::npos ? "..." : place.substr(0, end) + "://...";
}

void demand_clear_address(const std::string& place) {
  if (!is_address(place)) return;
  if (engine_of(place) != Engine::postgresql)
    throw bad_input("archive " + shown_place(place) +
                    ": is no address of an archive; name a file, or postgresql://user@host/database");
  if (!clear_part(place))
    throw bad_input("archive " + shown_place(place) +
                    ": the address can be read in two ways; write postgresql://user@host:port/database, in a "
                    "name %40 for @, %2F for /, %3F for ? and %25 for %; a password belongs into ~/.pgpass");
}

}  // namespace strandproof::host::archive
