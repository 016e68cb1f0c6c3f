// Simulated NOR flash: 1 MiB in pages of 4096 bytes and words of 4, the geometry of the emulated
// target, so that both hold byte-equal images. Clean by default; kept in a file only on request.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "firmware/port/flash.hpp"

namespace strandproof::sim {

class SimFlash final : public port::Flash {
 public:
  static constexpr std::uint32_t bytes = 1U << 20U;
  static constexpr std::uint32_t page = 4096;
  static constexpr std::uint32_t word = 4;

  SimFlash();
  ~SimFlash();
  SimFlash(const SimFlash&) = delete;
  SimFlash& operator=(const SimFlash&) = delete;

  // Takes over the file's content and writes every change through to it; a new file starts erased.
  // Throws std::runtime_error with what, where and the remedy if it can not be opened, is locked by
  // another program, or has another size.
  void keep_in(const std::string& path);

  [[nodiscard]] std::uint32_t size() const override { return bytes; }
  [[nodiscard]] std::uint32_t page_size() const override { return page; }
  [[nodiscard]] std::uint32_t word_size() const override { return word; }
  [[nodiscard]] bool read(std::uint32_t address, std::span<std::uint8_t> into) const override;
  [[nodiscard]] bool program(std::uint32_t address, std::span<const std::uint8_t> data) override;
  [[nodiscard]] bool erase(std::uint32_t page_address) override;

  [[nodiscard]] const std::vector<std::uint8_t>& image() const { return image_; }
  // Calls that broke the contract (a bit raised, a crooked address): each one is a firmware bug.
  [[nodiscard]] std::uint32_t violations() const { return violations_; }

 private:
  bool write_through(std::uint32_t address, std::size_t length);
  std::vector<std::uint8_t> image_;
  std::array<std::uint32_t, bytes / page>
      written_{};  // of each page, up to where: what is erased is blank behind
  std::uint32_t violations_ = 0;
  int file_ = -1;
};

}  // namespace strandproof::sim
