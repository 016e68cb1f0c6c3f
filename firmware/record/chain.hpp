// The seal behind the content of each record, and the keys that move one way. See "Tamper evidence" in
// README.md for what is proven by what, and to whom.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "firmware/crypto/crypto.hpp"
#include "firmware/record/store.hpp"

namespace strandproof::record {

using Link = std::array<std::uint8_t, crypto::digest_size>;
using Tag = std::array<std::uint8_t, 16>;
using Secret = std::array<std::uint8_t, 32>;

inline constexpr std::size_t seal_size = 58;  // bytes, always the last ones of a body
inline constexpr std::size_t content_max = record_body_max - seal_size;
// First byte of the content of a checkpoint: its field in wire.Record. An epoch ends behind such a record.
inline constexpr std::uint8_t checkpoint_mark = 0x1A;

struct Seal {
  std::uint32_t epoch = 0;
  std::uint32_t gap = 0;  // sequence less that of the record before; 0: the first record of a memory
  Link link{};
  Tag tag{};
  friend bool operator==(const Seal&, const Seal&) = default;
};

// A place in the chain: what the next link goes on from. Sequence 0: before the first record.
struct ChainPoint {
  std::uint64_t sequence = 0;
  Link link{};
  Tag tag{};
};

void put_seal(const Seal& seal, std::span<std::uint8_t, seal_size> to);
// False: the body does not end with a seal.
[[nodiscard]] bool get_seal(std::span<const std::uint8_t> body, Seal& seal);

// ---- keys of an epoch
[[nodiscard]] Secret next_secret(const Secret& secret);
[[nodiscard]] Secret unpaired_secret(std::span<const std::uint8_t, 32> of_jack, std::uint32_t epoch);
// chain_key: HMAC-SHA-256(key of the pairing, "strandproof chain key"); epoch: the first that it serves.
[[nodiscard]] Secret paired_secret(const Secret& chain_key, std::uint32_t device, std::uint32_t epoch);
[[nodiscard]] Secret tag_key(const Secret& secret);
// keyed: an HMAC begun with tag_key(); half of its work is done once an epoch and not for each record.
[[nodiscard]] Tag tag_of(const crypto::HmacSha256& keyed, const Link& link);

// One link in pieces of at most piece_max bytes, so that no tick hashes more than that.
class LinkJob {
 public:
  static constexpr std::size_t piece_max = 128;

  struct Record {
    std::uint32_t device = 0;
    std::uint64_t sequence = 0;
    std::uint32_t boot = 0;
    std::uint64_t tick = 0;
    std::uint32_t epoch = 0;
  };

  // content must stay where it is until the job is done.
  void begin(const Record& record, const ChainPoint& before, std::span<const std::uint8_t> content);
  // True when done: link() is valid.
  [[nodiscard]] bool step();
  [[nodiscard]] const Link& link() const { return link_; }

 private:
  crypto::Sha256 hash_;
  std::span<const std::uint8_t> left_;
  Link link_{};
};

}  // namespace strandproof::record
