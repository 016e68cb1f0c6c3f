// The keys of the tags, epoch by epoch, from the one that a pairing has given on.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "host-tool/proof/chain.hpp"

namespace strandproof::host::proof {

class EpochKeys {
 public:
  // Keys of single epochs that somebody else has worked out.
  void give(std::map<std::uint32_t, proto::Key> given) { given_ = std::move(given); }
  // From this epoch to `last`: a number further on is a damaged one, and no key is worked out for it.
  void begin(std::uint32_t epoch, const proto::Key& secret, std::uint64_t last) {
    first_ = epoch;
    last_ = last;
    secret_ = secret;
    keys_.assign(1, tag_key(secret));
  }
  void forget() {
    secret_.reset();
    keys_.clear();
  }
  // Nothing if this host does not know it. The pointer is good until the next call.
  [[nodiscard]] const proto::Key* of(std::uint32_t epoch) {
    if (const auto found = given_.find(epoch); found != given_.end()) {
      return &found->second;
    }
    if (!secret_ || epoch < first_ || epoch > last_) {
      return nullptr;
    }
    while (keys_.size() <= epoch - first_) {
      secret_ = next_secret(*secret_);
      keys_.push_back(tag_key(*secret_));
    }
    return &keys_[epoch - first_];
  }

 private:
  std::optional<proto::Key> secret_;  // of the newest epoch in keys_
  std::uint32_t first_ = 0;
  std::uint64_t last_ = 0;
  std::vector<proto::Key> keys_;
  std::map<std::uint32_t, proto::Key> given_;
};

}  // namespace strandproof::host::proof
