// The bytes of the log's chain, as proto/SPEC.md, section 11 has them: seals, links, tags, checkpoints.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>

#include "proto/peer/keys.hpp"

namespace strandproof::host::proof {

using Link = std::array<std::uint8_t, 32>;
using Tag = std::array<std::uint8_t, 16>;

// A record as the jack sent it and the archive keeps it.
struct Record {
  std::uint64_t sequence = 0;
  std::uint32_t boot = 0;
  std::uint64_t tick_ms = 0;
  std::string body;
};

struct Seal {
  std::uint32_t epoch = 0;
  std::uint32_t gap = 0;  // sequence less that of the record before; 0: the first record of a memory
  Link link{};
  Tag tag{};
};

inline constexpr std::size_t seal_size = 58;  // bytes at the end of a body

// What stands where a seal belongs; nothing if the body is too short for one. whole: its two first bytes are
// those of a seal.
struct FoundSeal {
  Seal seal;
  bool whole = false;
};
[[nodiscard]] std::optional<FoundSeal> seal_of(const std::string& body);

// The link that a record must have behind `before`, with this epoch and gap. At least seal_size bytes of
// body.
struct Before {
  Link link{};
  Tag tag{};
};
[[nodiscard]] Link link_of(std::uint32_t device, const Record& record, std::uint32_t epoch, std::uint32_t gap,
                           const Before& before);

// ---- keys: chain_key is proto::chain_key(key of the pairing)
[[nodiscard]] proto::Key paired_secret(const proto::Key& chain_key, std::uint32_t device,
                                       std::uint32_t epoch);
[[nodiscard]] proto::Key next_secret(const proto::Key& secret);
[[nodiscard]] proto::Key tag_key(const proto::Key& secret);
[[nodiscard]] Tag tag_of(const proto::Key& tag_key, const Link& link);

struct Checkpoint {
  std::uint32_t device = 0;
  std::uint32_t epoch = 0;
  std::uint64_t covers = 0;
  Link link{};
  std::uint64_t next_host = 0;
  std::uint64_t utc_s = 0;
  std::uint32_t clock_quality = 0;
  proto::Key public_key{};
  proto::Signature signature{};
};
// Whether the body begins as a checkpoint does: an epoch ends behind such a record.
[[nodiscard]] bool is_checkpoint(const std::string& body);
// Nothing if it is none, or one of another form.
[[nodiscard]] std::optional<Checkpoint> checkpoint_of(const std::string& body);
[[nodiscard]] bool signature_good(const Checkpoint& checkpoint);
// Ed25519 (RFC 8032).
[[nodiscard]] bool signed_by(const proto::Key& key, const std::string& text,
                             const proto::Signature& signature);
// The bytes that are signed.
[[nodiscard]] std::string signed_text(const Checkpoint& checkpoint);

}  // namespace strandproof::host::proof
