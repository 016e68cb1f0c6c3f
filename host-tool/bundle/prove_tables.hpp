// The gauge tables of a bundle: digest, signature, and whether their runs give them. Private to this folder.
#pragma once

#include "host-tool/bundle/prove.hpp"

namespace strandproof::host::bundle {

// Of the table's entry in the history; nothing if it was loaded before signatures were kept.
std::optional<std::string> signer_of(const Data& data, const archive::LoadedTable& table);

void prove_tables(const Data& data, Proof& proof);

}  // namespace strandproof::host::bundle
