// What the data of a bundle prove by themselves: chains and checkpoints of the jacks, signatures and runs of
// the tables, instructions against what the jack recorded of them, the chain of what people entered. The
// lines are for a person and stand on the bundle's page.
#pragma once

#include <string>
#include <vector>

#include "host-tool/bundle/data.hpp"

namespace strandproof::host::bundle {

struct Proof {
  std::vector<std::string> faults;  // what does not hold, and where; empty: all of it does
  std::vector<std::string> holds;
  std::vector<std::string> open;  // what these data leave unproven
};

Proof prove(const Data& data);

// A head that is held elsewhere (by this computer, in the bundle itself) against the records here: the jack's
// key and, where the record is here, its link. "" if it fits; whose: for the message.
std::string against_head(const Data& data, const proof::Head& head, const std::string& whose);

// The jack's key, as its first checkpoint here says; nothing without one.
std::optional<proto::Key> key_of(const Data& data, std::uint32_t jack);

// As the chain's verifier takes them.
std::vector<proof::Record> records_of(const Data& data, std::uint32_t jack);

}  // namespace strandproof::host::bundle
