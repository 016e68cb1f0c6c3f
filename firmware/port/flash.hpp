// The door to NOR-like flash. The contract, kept by every board and by the test doubles:
//  - erase(page) sets every byte of the page to 0xFF.
//  - program() turns bits from 1 to 0 only; a program that would raise a bit is an error of the caller.
//  - addresses and lengths of program() are multiples of word_size().
//  - a power cut during program() or erase() may leave any part of it done; a read after it returns
//    whatever is there. Nothing outside the addressed words or page changes.
//  - the calls are synchronous: when they return true the bytes are durable.
#pragma once

#include <cstdint>
#include <span>

namespace strandproof::port {

class Flash {
 public:
  [[nodiscard]] virtual std::uint32_t size() const = 0;       // bytes, a multiple of page_size()
  [[nodiscard]] virtual std::uint32_t page_size() const = 0;  // bytes erased at once
  [[nodiscard]] virtual std::uint32_t word_size() const = 0;  // bytes programmed at once: 4 or 8
  [[nodiscard]] virtual bool read(std::uint32_t address, std::span<std::uint8_t> into) const = 0;
  [[nodiscard]] virtual bool program(std::uint32_t address, std::span<const std::uint8_t> bytes) = 0;
  [[nodiscard]] virtual bool erase(std::uint32_t page_address) = 0;

 protected:
  ~Flash() = default;
};

}  // namespace strandproof::port
