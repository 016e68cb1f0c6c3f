// The readable part of a bundle, given by its data alone.
#pragma once

#include "host-tool/bundle/prove.hpp"

namespace strandproof::host::bundle {

// Up to the data block. digest_hex: of the data block, printed on the page.
std::string page_of(const Data& data, const Proof& proof, const std::string& digest_hex);

}  // namespace strandproof::host::bundle
