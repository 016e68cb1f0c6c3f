// Follows a log while it comes, batch by batch: what is not good is never stored.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "host-tool/proof/verify.hpp"

namespace strandproof::host::proof {

class Follower {
 public:
  // held: as load_head() gives it. from: the sequence that was held in the archive when the log is asked for
  // on.
  Follower(std::uint32_t device, std::optional<Head> held, std::optional<HostKey> host)
      : device_{device}, held_{std::move(held)}, host_{std::move(host)} {}

  // The next records, in their order; the first of a batch may be the last of the batch before. The findings:
  // empty where all of them belong to the log that is held.
  [[nodiscard]] std::vector<Finding> add(std::vector<Record> records);
  // When there is nothing more: a log that ends before the held head is cut off.
  [[nodiscard]] std::vector<Finding> finish() const;
  // To be held once what was added is stored; nothing before the first record.
  [[nodiscard]] const std::optional<Head>& head() const { return so_far_; }

 private:
  std::uint32_t device_;
  std::optional<Head> held_;
  std::optional<HostKey> host_;
  std::optional<Head> so_far_;
};

}  // namespace strandproof::host::proof
