// A NOR flash that is meaner than silicon. It fails the test on every use outside the port's contract, counts
// each word programmed and each page erased as one operation, can lose power in the middle of any one of
// them, and has cells that wear out.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <functional>
#include <string_view>
#include <utility>
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
  flicker,  // a random half of the bits done; one to three of the others read differently at each look, each
            // by itself, until they are written again
  bytes_1,  // the first byte of a word, or the first eighth of a page
  bytes_2,
  bytes_3,
  bytes_4,
  bytes_5,
  bytes_6,
  bytes_7,
};
inline constexpr std::array all_damages{Damage::nothing,   Damage::whole, Damage::bits,
                                        Damage::scattered, Damage::weak,  Damage::flicker};

// Those, and a tear behind each byte of a word.
inline std::vector<Damage> damages_of(std::uint32_t word_size) {
  std::vector<Damage> all(all_damages.begin(), all_damages.end());
  for (std::uint32_t n = 1; n < word_size; ++n) {
    all.push_back(static_cast<Damage>(static_cast<std::uint32_t>(Damage::bytes_1) + n - 1U));
  }
  return all;
}

// Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014: cheap to seed and to copy.
class Noise {
 public:
  explicit Noise(std::uint64_t seed) : state_{seed} {}
  std::uint64_t operator()() {
    std::uint64_t z = state_ += 0x9E37'79B9'7F4A'7C15U;
    z = (z ^ (z >> 30U)) * 0xBF58'476D'1CE4'E5B9U;
    z = (z ^ (z >> 27U)) * 0x94D0'49BB'1331'11EBU;
    return z ^ (z >> 31U);
  }

 private:
  std::uint64_t state_;
};

class NastyFlash final : public port::Flash {
 public:
  // One operation that is about to happen; an erase has no words.
  struct Operation {
    std::uint32_t address = 0;
    std::span<const std::uint8_t> words;  // that are left of the call, the next one first
  };

  NastyFlash(std::uint32_t pages, std::uint32_t page_size, std::uint32_t word_size)
      : page_size_{page_size},
        word_size_{word_size},
        bytes_(pages * page_size, 0xFF),
        weak_(bytes_.size(), 0),
        erases_(pages, 0) {}

  [[nodiscard]] std::uint32_t size() const override { return static_cast<std::uint32_t>(bytes_.size()); }
  [[nodiscard]] std::uint32_t page_size() const override { return page_size_; }
  [[nodiscard]] std::uint32_t word_size() const override { return word_size_; }

  [[nodiscard]] bool read(std::uint32_t address, std::span<std::uint8_t> into) const override {
    if (!powered_) {
      return false;
    }
    if (address > size() || into.size() > size() - address) {
      return forbidden("read outside the flash", address, into.size());
    }
    bytes_read_ += into.size();
    std::copy_n(bytes_.begin() + address, into.size(), into.begin());
    if (any_weak_) {
      toss(address, into);
    }
    return true;
  }

  [[nodiscard]] bool program(std::uint32_t address, std::span<const std::uint8_t> from) override {
    if (address % word_size_ != 0 || from.size() % word_size_ != 0 || from.empty() || address > size() ||
        from.size() > size() - address) {
      return forbidden("program against the contract", address, from.size());
    }
    for (std::uint32_t at = 0; at < from.size(); at += word_size_) {
      const auto word = from.subspan(at, word_size_);
      if (!powered_) {
        return false;
      }
      if (cut_now({.address = address + at, .words = from.subspan(at)})) {
        tear_word(address + at, word);
        if (damage_ == Damage::scattered) {
          scatter(address + at + word_size_, from.subspan(at + word_size_));
        }
        return false;
      }
      if (!write_word(address + at, word)) {
        return false;
      }
    }
    return true;
  }

  [[nodiscard]] bool erase(std::uint32_t page) override {
    if (page % page_size_ != 0 || page >= size()) {
      return forbidden("erase against the contract", page, page_size_);
    }
    if (!powered_) {
      return false;
    }
    const bool torn = cut_now({.address = page, .words = {}});
    if (!torn && ++erases_[page / page_size_] > endurance_of(page)) {
      return false;
    }
    for (std::uint32_t i = page; i < page + page_size_; ++i) {
      erase_byte(i, torn);
    }
    return !torn;
  }

  // The n-th operation from now (1 is the next one) loses power, with this damage.
  void cut_at(std::uint64_t n, Damage damage, std::uint64_t seed) {
    cut_ = operations_ + n;
    damage_ = damage;
    any_weak_ = any_weak_ || damage == Damage::weak || damage == Damage::flicker;
    seed_ = seed;
    noise_ = Noise{seed};
  }
  void power_on() {
    powered_ = !broken_;
    cut_ = 0;
  }
  // Called before every operation: from there a test goes on with a copy that is cut at this operation.
  void watch(std::function<void(const Operation&)> watcher) { watcher_ = std::move(watcher); }
  [[nodiscard]] NastyFlash cut_here(const Operation& next, Damage damage, std::uint64_t seed) const {
    NastyFlash torn{*this};
    torn.watcher_ = nullptr;
    torn.cut_at(1, damage, seed);
    const bool done = next.words.empty() ? torn.erase(next.address) : torn.program(next.address, next.words);
    EXPECT_FALSE(done || torn.powered_) << "the cut never came";
    torn.power_on();
    return torn;
  }

  [[nodiscard]] bool powered() const { return powered_; }
  [[nodiscard]] std::uint64_t operations() const { return operations_; }
  [[nodiscard]] std::uint64_t bytes_read() const { return bytes_read_; }
  [[nodiscard]] std::uint64_t erases(std::uint32_t page) const { return erases_[page]; }
  [[nodiscard]] std::string_view image() const {
    return {reinterpret_cast<const char*>(bytes_.data()), bytes_.size()};
  }

  // Damage of age: one bit of a byte turns over.
  void rot(std::uint32_t address, std::uint8_t mask) { bytes_[address] ^= mask; }
  // From now on the cell at this address keeps what it has, whatever is programmed; an erase still clears it.
  void stick(std::uint32_t address) { stuck_.push_back(address); }
  // The erase after so many fails, and every one after it; the page keeps what it holds.
  void wears_out_after(std::uint32_t page, std::uint64_t erases) {
    endurance_.resize(erases_.size(), UINT64_MAX);
    endurance_[page] = erases;
  }

 private:
  // A use outside the contract is the firmware's fault whatever comes of it: the test has failed, and this
  // flash answers nothing any more.
  [[nodiscard]] bool forbidden(const char* what, std::uint32_t address, std::size_t length) const {
    ADD_FAILURE() << what << ": " << address << " + " << length;
    broken_ = true;
    powered_ = false;
    return false;
  }

  [[nodiscard]] bool cut_now(const Operation& next) {
    if (watcher_) {
      watcher_(next);
    }
    ++operations_;
    if (operations_ == cut_) {
      powered_ = false;
    }
    return !powered_;
  }

  [[nodiscard]] std::uint64_t endurance_of(std::uint32_t page) const {
    return endurance_.empty() ? UINT64_MAX : endurance_[page / page_size_];
  }

  [[nodiscard]] bool is_stuck(std::uint32_t at) const {
    return !stuck_.empty() && std::find(stuck_.begin(), stuck_.end(), at) != stuck_.end();
  }

  // Weak words turn over as a whole, or each of their bits by itself.
  void toss(std::uint32_t address, std::span<std::uint8_t> into) const {
    std::uint32_t tossed = UINT32_MAX;
    std::uint8_t flipped = 0;
    for (std::size_t i = 0; i < into.size(); ++i) {
      const auto at = address + static_cast<std::uint32_t>(i);
      if (weak_[at] == 0) {
        continue;
      }
      if (damage_ == Damage::flicker) {
        flipped = static_cast<std::uint8_t>(noise_());
      } else if (at / word_size_ != tossed) {
        tossed = at / word_size_;
        flipped = (noise_() & 1U) != 0 ? 0xFF : 0;
      }
      into[i] = static_cast<std::uint8_t>(into[i] ^ (flipped & weak_[at]));
    }
  }

  [[nodiscard]] bool write_word(std::uint32_t address, std::span<const std::uint8_t> word) {
    for (std::uint32_t i = 0; i < word.size(); ++i) {
      const std::uint32_t at = address + i;
      if ((word[i] & ~(bytes_[at] | weak_[at])) != 0) {
        return forbidden("program would turn a 0 into a 1", at, 1);
      }
      if (!is_stuck(at)) {
        // A weak bit that is programmed again is firm; one that is left alone stays weak.
        bytes_[at] = static_cast<std::uint8_t>((bytes_[at] | weak_[at]) & word[i]);
        weak_[at] = static_cast<std::uint8_t>(weak_[at] & word[i]);
      }
    }
    return true;
  }

  void tear_word(std::uint32_t address, std::span<const std::uint8_t> word) {
    for (std::uint32_t i = 0; i < word.size(); ++i) {
      const std::uint32_t at = address + i;
      const auto changing = static_cast<std::uint8_t>(is_stuck(at) ? 0 : bytes_[at] & ~word[i]);
      std::uint8_t done = 0;
      switch (damage_) {
        case Damage::nothing:
          break;
        case Damage::whole:
          done = changing;
          break;
        case Damage::bits:
        case Damage::scattered:
        case Damage::flicker:
          done = static_cast<std::uint8_t>(changing & noise_());
          break;
        case Damage::weak:
          weak_[at] = static_cast<std::uint8_t>(weak_[at] | changing);
          break;
        default:
          done = i < torn_bytes() ? changing : 0;
      }
      bytes_[at] = static_cast<std::uint8_t>(bytes_[at] & ~done);
    }
    if (damage_ == Damage::flicker) {
      weaken(address, word);
    }
  }

  // One to three of the bits that were to change and have not.
  void weaken(std::uint32_t address, std::span<const std::uint8_t> word) {
    const std::uint64_t wanted = 1 + noise_() % 3;
    for (std::uint64_t n = 0, tries = 0; n < wanted && tries < 64; ++tries) {
      const auto i = static_cast<std::uint32_t>(noise_() % word.size());
      const auto bit = static_cast<std::uint8_t>(1U << (noise_() % 8));
      if (!is_stuck(address + i) && (bytes_[address + i] & ~word[i] & bit) != 0) {
        weak_[address + i] = static_cast<std::uint8_t>(weak_[address + i] | bit);
        ++n;
      }
    }
  }

  void scatter(std::uint32_t address, std::span<const std::uint8_t> rest) {
    for (std::uint32_t at = 0; at < rest.size(); at += word_size_) {
      if ((noise_() & 1U) != 0) {
        tear_word(address + at, rest.subspan(at, word_size_));
      }
    }
  }

  [[nodiscard]] std::uint32_t torn_bytes() const {
    return static_cast<std::uint32_t>(damage_) - static_cast<std::uint32_t>(Damage::bytes_1) + 1U;
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
    } else if (torn && damage_ >= Damage::bytes_1) {
      // From the front or from the back.
      const std::uint32_t place = torn_bytes() % 2 == 1 ? at % page_size_ : page_size_ - 1 - at % page_size_;
      done = place < page_size_ / 8 * torn_bytes() ? changing : 0;
    } else if (torn && damage_ != Damage::whole) {
      done = static_cast<std::uint8_t>(changing & noise_());
    }
    const bool unsettled = torn && (damage_ == Damage::weak || damage_ == Damage::flicker);
    if (unsettled) {
      weak_[at] = changing;
    } else if (!torn || done != 0) {
      weak_[at] = 0;
    }
    bytes_[at] = static_cast<std::uint8_t>(bytes_[at] | done);
  }

  std::uint32_t page_size_, word_size_;
  std::vector<std::uint8_t> bytes_, weak_;
  std::vector<std::uint64_t> erases_, endurance_;
  std::vector<std::uint32_t> stuck_;
  std::function<void(const Operation&)> watcher_;
  std::uint64_t operations_ = 0;
  mutable std::uint64_t bytes_read_ = 0;
  std::uint64_t cut_ = 0;
  std::uint64_t seed_ = 0;
  mutable bool powered_ = true;
  mutable bool broken_ = false;
  bool any_weak_ =
      false;  // reads are tossed only on a flash that may have weak bits: most of the time goes there
  Damage damage_ = Damage::nothing;
  mutable Noise noise_{1};
};

}  // namespace strandproof::test
