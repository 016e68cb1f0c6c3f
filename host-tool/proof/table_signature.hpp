// The signature of a loaded gauge table with the key that made it, as the history keeps both: so that whoever
// is given the table can check it without the jack.
#pragma once

#include <optional>
#include <string>

#include "proto/peer/keys.hpp"

namespace strandproof::host::proof {

struct TableSignature {
  proto::Key key{};
  proto::Signature signature{};
};

// "key HEX signature HEX", and back; nothing if it is none.
[[nodiscard]] std::string text_of(const TableSignature& signature);
[[nodiscard]] std::optional<TableSignature> table_signature_of(const std::string& text);

// Over the bytes that the jack holds.
[[nodiscard]] bool signature_good(const TableSignature& signature, const std::string& bytes);

}  // namespace strandproof::host::proof
