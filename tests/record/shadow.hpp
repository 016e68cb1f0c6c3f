// What must be true of the log after any cut, kept outside the firmware: every attempt as it was handed in,
// and every number that append() acknowledged. Nothing here reads the store's own memory.
#pragma once

#include <gtest/gtest.h>

#include <cstdint>
#include <cstring>
#include <map>
#include <set>
#include <vector>

#include "firmware/record/store.hpp"

namespace strandproof::test {

using Bytes = std::vector<std::uint8_t>;

class Shadow {
 public:
  // The body of the n-th attempt: its number first, so that a doubled record betrays itself.
  [[nodiscard]] static Bytes body(std::uint32_t attempt) {
    constexpr std::uint32_t lengths[]{4, 5, 8, 31, 64, 97, 200, 447, 448};
    Bytes bytes(lengths[attempt % 9], static_cast<std::uint8_t>(attempt * 7U));
    std::memcpy(bytes.data(), &attempt, sizeof attempt);
    return bytes;
  }

  // One append; keeps the acknowledgement.
  record::Error append(record::Store& store, std::uint32_t boot,
                       record::Priority priority = record::Priority::routine) {
    const std::uint32_t attempt = attempts_++;
    const auto done = store.append(body(attempt), boot, attempt * 10U, priority);
    if (done.error == record::Error::none) {
      acknowledged_[done.sequence] = attempt;
    }
    return done.error;
  }
  // The host says that it holds everything so far: only then may records disappear.
  void release(record::Store& store, std::uint64_t up_to) {
    store.release(up_to);
    released_ = std::max(released_, up_to);
  }

  struct Counts {
    std::uint64_t lost = 0, invented = 0, doubled = 0, unordered = 0, kept = 0;
  };

  // Reads the whole log and compares. What has been read once counts as acknowledged from then on: a host may
  // hold it.
  [[nodiscard]] Counts compare(record::Store& store) {
    Counts counts;
    std::set<std::uint32_t> seen;
    std::set<std::uint64_t> present;
    record::RecordHeader header;
    Bytes buffer(record::record_body_max);
    std::uint64_t before = 0;
    for (std::uint64_t from = 1;; from = header.sequence + 1) {
      const auto got = store.read_from(from, header, buffer);
      if (got.error != record::Error::none) {
        break;
      }
      std::uint32_t attempt = 0;
      std::memcpy(&attempt, buffer.data(), sizeof attempt);
      const bool known =
          attempt < attempts_ && body(attempt) == Bytes{buffer.begin(), buffer.begin() + got.size};
      const auto acknowledged = acknowledged_.find(header.sequence);
      const bool agrees = acknowledged == acknowledged_.end() || acknowledged->second == attempt;
      counts.invented += known && agrees && header.tick == attempt * 10U ? 0 : 1;
      counts.doubled += seen.insert(attempt).second ? 0 : 1;
      counts.unordered += header.sequence > before ? 0 : 1;
      before = header.sequence;
      acknowledged_.emplace(header.sequence, attempt);
      present.insert(header.sequence);
      ++counts.kept;
    }
    for (const auto& [sequence, attempt] : acknowledged_) {
      counts.lost += sequence > released_ && present.count(sequence) == 0 ? 1 : 0;
    }
    return counts;
  }

  [[nodiscard]] std::uint64_t newest_acknowledged() const {
    return acknowledged_.empty() ? 0 : acknowledged_.rbegin()->first;
  }
  [[nodiscard]] std::size_t acknowledged() const { return acknowledged_.size(); }

 private:
  std::uint32_t attempts_ = 0;
  std::map<std::uint64_t, std::uint32_t> acknowledged_;  // sequence: attempt
  std::uint64_t released_ = 0;
};

}  // namespace strandproof::test
