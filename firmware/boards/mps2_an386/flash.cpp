#include "firmware/boards/mps2_an386/flash.hpp"

#include <cstring>

#include "firmware/boards/mps2_an386/mpu.hpp"

namespace strandproof::board {
namespace {

std::uint8_t* at(std::uint32_t address) {
  return reinterpret_cast<std::uint8_t*>(BoardFlash::base + address);
}

bool inside(std::uint32_t address, std::size_t length) {
  return address <= BoardFlash::bytes && length <= BoardFlash::bytes - address;
}

// Word by word: address and length are multiples of a word.
bool raises_a_bit(const std::uint8_t* old, std::span<const std::uint8_t> data) {
  for (std::size_t i = 0; i < data.size(); i += BoardFlash::word) {
    std::uint32_t have = 0, wanted = 0;
    std::memcpy(&have, old + i, sizeof have);
    std::memcpy(&wanted, &data[i], sizeof wanted);
    if ((wanted & ~have) != 0) {
      return true;
    }
  }
  return false;
}

}  // namespace

bool BoardFlash::read(std::uint32_t address, std::span<std::uint8_t> into) const {
  if (!inside(address, into.size())) {
    return false;
  }
  std::memcpy(into.data(), at(address), into.size());
  return true;
}

bool BoardFlash::program(std::uint32_t address, std::span<const std::uint8_t> data) {
  if (!inside(address, data.size()) || address % word != 0 || data.size() % word != 0 ||
      raises_a_bit(at(address), data)) {
    return false;
  }
  const FlashWindowOpen open;
  std::memcpy(at(address), data.data(), data.size());
  return true;
}

bool BoardFlash::erase(std::uint32_t page_address) {
  if (page_address >= bytes || page_address % page != 0) {
    return false;
  }
  const FlashWindowOpen open;
  std::memset(at(page_address), 0xFF, page);
  return true;
}

}  // namespace strandproof::board
