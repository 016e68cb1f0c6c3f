// The board's non-volatile memory: the first MiB of the 16 MiB at 0x21000000, which QEMU keeps in a
// file that outlives resets and a killed emulator. It is plain memory, so NOR's rules are enforced
// here: erase by page, program by word, bits from 1 to 0 only. sim::SimFlash keeps the same rules and
// geometry on the desktop, so both hold byte-equal images.
#pragma once

#include <cstdint>

#include "firmware/port/flash.hpp"

namespace strandproof::board {

class BoardFlash final : public port::Flash {
 public:
  static constexpr std::uint32_t base = 0x21000000;
  static constexpr std::uint32_t bytes = 1U << 20U;
  static constexpr std::uint32_t page = 4096;
  static constexpr std::uint32_t word = 4;

  [[nodiscard]] std::uint32_t size() const override { return bytes; }
  [[nodiscard]] std::uint32_t page_size() const override { return page; }
  [[nodiscard]] std::uint32_t word_size() const override { return word; }
  // False, and nothing changed, for an address or length outside the contract of port::Flash.
  [[nodiscard]] bool read(std::uint32_t address, std::span<std::uint8_t> into) const override;
  [[nodiscard]] bool program(std::uint32_t address, std::span<const std::uint8_t> data) override;
  [[nodiscard]] bool erase(std::uint32_t page_address) override;
};

}  // namespace strandproof::board
