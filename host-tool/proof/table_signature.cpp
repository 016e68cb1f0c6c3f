#include "host-tool/proof/table_signature.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "host-tool/base/text.hpp"
#include "host-tool/proof/chain.hpp"

namespace strandproof::host::proof {
namespace {

constexpr std::string_view key_word = "key ";
constexpr std::string_view signature_word = " signature ";

template <std::size_t N>
bool take(std::string_view hex, std::array<std::uint8_t, N>& to) {
  const auto bytes = from_hex(hex);
  if (!bytes || bytes->size() != N) return false;
  std::copy(bytes->begin(), bytes->end(), reinterpret_cast<char*>(to.data()));
  return true;
}

}  // namespace

std::string text_of(const TableSignature& s) {
  const auto hex = [](const auto& a) { return to_hex({reinterpret_cast<const char*>(a.data()), a.size()}); };
  return fmt::format("{}{}{}{}", key_word, hex(s.key), signature_word, hex(s.signature));
}

std::optional<TableSignature> table_signature_of(const std::string& text) {
  const std::string_view all{text};
  const auto middle = all.find(signature_word);
  TableSignature s;
  if (!all.starts_with(key_word) || middle == std::string_view::npos ||
      !take(all.substr(key_word.size(), middle - key_word.size()), s.key) ||
      !take(all.substr(middle + signature_word.size()), s.signature)) {
    return {};
  }
  return s;
}

bool signature_good(const TableSignature& s, const std::string& bytes) {
  return signed_by(s.key, bytes, s.signature);
}

}  // namespace strandproof::host::proof
