// A gauge table comes in numbered chunks that may be sent again, in any order, after any interruption: a
// begin with the same revision, length and digest goes on where it was. Nothing takes effect before the
// commit, and then only if digest and form hold here and the signature and all else with the handler.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "firmware/link/handler.hpp"

namespace strandproof::link {

class TableTransfer {
 public:
  static constexpr std::size_t table_max = 960;  // bytes; six chunks
  static constexpr std::size_t chunk_size = 160;

  [[nodiscard]] Code begin(const strandproof_wire_TableBegin& b);
  [[nodiscard]] Code chunk(const strandproof_wire_TableChunk& c);
  [[nodiscard]] Code commit(const strandproof_wire_TableCommit& c, Handler& handler);
  // The first chunk that is missing; the number of chunks when none is.
  [[nodiscard]] std::uint32_t next_missing() const;

 private:
  [[nodiscard]] std::uint32_t chunks() const {
    return static_cast<std::uint32_t>((length_ + chunk_size - 1) / chunk_size);
  }

  std::array<std::uint8_t, table_max> bytes_{};
  std::array<std::uint8_t, 32> digest_{};
  std::uint32_t revision_ = 0;
  std::uint32_t length_ = 0;  // 0: nothing begun
  std::uint32_t have_ = 0;    // bit n: chunk n is here
};

}  // namespace strandproof::link
