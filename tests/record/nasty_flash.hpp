// A NOR flash that is meaner than silicon. It fails the test on every use outside the port's contract, counts
// each word programmed and each page erased as one operation, and can lose power in the middle of any one of
// them.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <random>
#include <string_view>
#include <vector>

#include "firmware/port/flash.hpp"

namespace strandproof::test {

// What a cut leaves of the operation that it interrupts.
enum class Damage : std::uint8_t {
  nothing,    // as if it had not begun
  whole,      // done, but the caller never hears of it
  bits,       // a random half of the bits that were to change
  scattered,  // and of the words that were to follow in the same call a random half, each torn as well
  weak,       // the word reads as it was or as it was to be, differently each time, until it is written again
};
inline constexpr std::array all_damages{Damage::nothing, Damage::whole, Damage::bits, Damage::scattered,
                                        Damage::weak};

class NastyFlash final : public port::Flash {
 public:
  NastyFlash(std::uint32_t pages, std::uint32_t page_size, std::uint32_t word_size)
      : page_size_{page_size},
        word_size_{word_size},
        bytes_(pages * page_size, 0xFF),
        weak_(bytes_.size(), 0) {}

  [[nodiscard]] std::uint32_t size() const override { return static_cast<std::uint32_t>(bytes_.size()); }
  [[nodiscard]] std::uint32_t page_size() const override { return page_size_; }
  [[nodiscard]] std::uint32_t word_size() const override { return word_size_; }

  [[nodiscard]] bool read(std::uint32_t address, std::span<std::uint8_t> into) const override {
    if (!powered_) {
      return false;
    }
    if (address > size() || into.size() > size() - address) {
      ADD_FAILURE() << "read outside the flash: " << address << " + " << into.size();
      return false;
    }
    if (!any_weak_) {
      std::copy_n(bytes_.begin() + address, into.size(), into.begin());
      return true;
    }
    std::uint32_t tossed = UINT32_MAX;
    bool flipped = false;
    for (std::size_t i = 0; i < into.size(); ++i) {
      const auto at = address + static_cast<std::uint32_t>(i);
      if (weak_[at] != 0 && at / word_size_ != tossed) {
        tossed = at / word_size_;
        flipped = (noise() & 1U) != 0;
      }
      into[i] = static_cast<std::uint8_t>(bytes_[at] ^ (flipped ? weak_[at] : 0));
    }
    return true;
  }

  [[nodiscard]] bool program(std::uint32_t address, std::span<const std::uint8_t> from) override {
    if (address % word_size_ != 0 || from.size() % word_size_ != 0 || from.empty() || address > size() ||
        from.size() > size() - address) {
      ADD_FAILURE() << "program against the contract: " << address << " + " << from.size();
      return false;
    }
    for (std::uint32_t at = 0; at < from.size(); at += word_size_) {
      const auto word = from.subspan(at, word_size_);
      if (!powered_) {
        return false;
      }
      if (cut_now()) {
        tear_word(address + at, word);
        if (damage_ == Damage::scattered) {
          scatter(address + at + word_size_, from.subspan(at + word_size_));
        }
        return false;
      }
      write_word(address + at, word);
    }
    return true;
  }

  [[nodiscard]] bool erase(std::uint32_t page) override {
    if (page % page_size_ != 0 || page >= size()) {
      ADD_FAILURE() << "erase against the contract: " << page;
      return false;
    }
    if (!powered_) {
      return false;
    }
    const bool torn = cut_now();
    for (std::uint32_t i = page; i < page + page_size_; ++i) {
      erase_byte(i, torn);
    }
    if (!torn) {
      ++erases_[page / page_size_];
    }
    return !torn;
  }

  // The n-th operation from now (1 is the next one) loses power, with this damage.
  void cut_at(std::uint64_t n, Damage damage, std::uint64_t seed) {
    cut_ = operations_ + n;
    damage_ = damage;
    any_weak_ = any_weak_ || damage == Damage::weak;
    seed_ = seed;
    random_.seed(static_cast<std::mt19937_64::result_type>(seed));
  }
  void power_on() {
    powered_ = true;
    cut_ = 0;
  }
  [[nodiscard]] bool powered() const { return powered_; }
  [[nodiscard]] std::uint64_t operations() const { return operations_; }
  [[nodiscard]] std::uint64_t erases(std::uint32_t page) const { return erases_[page]; }
  [[nodiscard]] std::string_view image() const {
    return {reinterpret_cast<const char*>(bytes_.data()), bytes_.size()};
  }

  // Damage of age: one bit of a byte turns over.
  void rot(std::uint32_t address, std::uint8_t mask) { bytes_[address] ^= mask; }
  // From now on the cell at this address keeps what it has, whatever is programmed.
  void stick(std::uint32_t address) { stuck_ = address; }

 private:
  [[nodiscard]] std::uint8_t noise() const { return static_cast<std::uint8_t>(random_()); }

  [[nodiscard]] bool cut_now() {
    ++operations_;
    if (operations_ == cut_) {
      powered_ = false;
    }
    return !powered_;
  }

  void write_word(std::uint32_t address, std::span<const std::uint8_t> word) {
    bool raised = false;
    for (std::uint32_t i = 0; i < word.size(); ++i) {
      const std::uint32_t at = address + i;
      raised = raised || (word[i] & ~(bytes_[at] | weak_[at])) != 0;
      if (at != stuck_) {
        // A weak bit that is programmed again is firm; one that is left alone stays weak.
        bytes_[at] = static_cast<std::uint8_t>((bytes_[at] | weak_[at]) & word[i]);
        weak_[at] = static_cast<std::uint8_t>(weak_[at] & word[i]);
      }
    }
    if (raised) {
      ADD_FAILURE() << "program would turn a 0 into a 1 in the word at " << address;
    }
  }

  void tear_word(std::uint32_t address, std::span<const std::uint8_t> word) {
    for (std::uint32_t i = 0; i < word.size(); ++i) {
      const std::uint32_t at = address + i;
      const auto changing = static_cast<std::uint8_t>(bytes_[at] & ~word[i]);
      std::uint8_t done = 0;
      switch (damage_) {
        case Damage::nothing:
          break;
        case Damage::whole:
          done = changing;
          break;
        case Damage::bits:
        case Damage::scattered:
          done = changing & noise();
          break;
        case Damage::weak:
          weak_[at] = static_cast<std::uint8_t>(weak_[at] | changing);
          break;
      }
      bytes_[at] = static_cast<std::uint8_t>(bytes_[at] & ~done);
    }
  }

  void scatter(std::uint32_t address, std::span<const std::uint8_t> rest) {
    for (std::uint32_t at = 0; at < rest.size(); at += word_size_) {
      if ((noise() & 1U) != 0) {
        tear_word(address + at, rest.subspan(at, word_size_));
      }
    }
  }

  void erase_byte(std::uint32_t at, bool torn) {
    const auto changing = static_cast<std::uint8_t>(~bytes_[at]);
    std::uint8_t done = changing;
    if (torn && damage_ == Damage::nothing) {
      done = 0;
    } else if (torn && damage_ == Damage::scattered) {
      // The first half of the page only, or all but its first word.
      const bool front = (seed_ & 1U) == 0;
      done = (front ? at % page_size_ < page_size_ / 2 : at % page_size_ >= word_size_) ? changing : 0;
    } else if (torn && damage_ != Damage::whole) {
      done = changing & noise();
    }
    weak_[at] = torn && damage_ == Damage::weak ? changing : 0;
    bytes_[at] = static_cast<std::uint8_t>(bytes_[at] | done);
  }

  std::uint32_t page_size_, word_size_;
  std::vector<std::uint8_t> bytes_, weak_;
  std::array<std::uint64_t, 256> erases_{};
  std::uint32_t stuck_ = UINT32_MAX;
  std::uint64_t operations_ = 0;
  std::uint64_t cut_ = 0;
  std::uint64_t seed_ = 0;
  bool powered_ = true;
  bool any_weak_ =
      false;  // reads are tossed only on a flash that may have weak bits: most of the time goes there
  Damage damage_ = Damage::nothing;
  mutable std::mt19937_64 random_{1};
};

}  // namespace strandproof::test
