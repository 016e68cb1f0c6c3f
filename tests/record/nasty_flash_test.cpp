// The test double is tested first: a flash that is too kind would make every power cut look survived.
#include "tests/record/nasty_flash.hpp"

#include <gtest/gtest-spi.h>

#include <bit>

namespace strandproof::test {
namespace {

using Word = std::array<std::uint8_t, 8>;
constexpr Word zeros{};
constexpr Word ones{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};

Word word_at(const NastyFlash& flash, std::uint32_t address) {
  Word w{};
  EXPECT_TRUE(flash.read(address, w));
  return w;
}

TEST(NastyFlash, FailsTheTestOnWhatTheContractForbidsAndAnswersNothingAnyMore) {
  static std::array<std::uint8_t, 8> into;
  const auto fresh = [] {
    static NastyFlash flash{2, 1024, 8};
    flash = NastyFlash{2, 1024, 8};
    EXPECT_TRUE(flash.program(0, zeros));
    return &flash;
  };
  static NastyFlash* flash = nullptr;
  const auto over = [&] {
    flash->power_on();
    EXPECT_FALSE(flash->read(0, into) || flash->program(16, zeros) || flash->erase(0));
  };
  flash = fresh();
  EXPECT_NONFATAL_FAILURE((void)flash->program(0, ones), "turn a 0 into a 1");
  over();
  flash = fresh();
  EXPECT_NONFATAL_FAILURE((void)flash->program(4, zeros), "against the contract");
  over();
  flash = fresh();
  EXPECT_NONFATAL_FAILURE((void)flash->program(8, std::span{zeros}.first(4)), "against the contract");
  over();
  flash = fresh();
  EXPECT_NONFATAL_FAILURE((void)flash->program(2048, zeros), "against the contract");
  over();
  flash = fresh();
  EXPECT_NONFATAL_FAILURE((void)flash->erase(512), "against the contract");
  over();
  flash = fresh();
  EXPECT_NONFATAL_FAILURE((void)flash->read(2044, into), "outside the flash");
  over();
}

TEST(NastyFlash, CutsExactlyTheOperationAskedForAndStaysOff) {
  NastyFlash flash(2, 1024, 8);
  flash.cut_at(3, Damage::nothing, 1);
  EXPECT_TRUE(flash.program(0, zeros));
  EXPECT_TRUE(flash.erase(1024));
  EXPECT_FALSE(flash.program(8, zeros));
  EXPECT_FALSE(flash.program(16, zeros));
  EXPECT_FALSE(flash.erase(0));
  flash.power_on();
  EXPECT_EQ(word_at(flash, 0), zeros);
  EXPECT_EQ(word_at(flash, 8), ones);
  EXPECT_EQ(word_at(flash, 16), ones);
  EXPECT_EQ(flash.operations(), 3U);
}

TEST(NastyFlash, TearsInsideAWord) {
  int partly = 0;
  for (std::uint64_t seed = 0; seed < 100; ++seed) {
    NastyFlash flash(1, 1024, 8);
    flash.cut_at(1, Damage::bits, seed);
    EXPECT_FALSE(flash.program(0, zeros));
    flash.power_on();
    const Word left = word_at(flash, 0);
    EXPECT_EQ(left, word_at(flash, 0)) << "a torn word that is not weak reads the same each time";
    partly += left != zeros && left != ones ? 1 : 0;
  }
  EXPECT_EQ(partly, 100);  // that all 64 bits agree by chance: once in 2^63
}

TEST(NastyFlash, ScattersWordsOfOneCallOutOfOrder) {
  int later_without_earlier = 0;
  for (std::uint64_t seed = 0; seed < 100; ++seed) {
    NastyFlash flash(1, 1024, 8);
    flash.cut_at(1, Damage::scattered, seed);
    const std::array<std::uint8_t, 32> four_words{};
    EXPECT_FALSE(flash.program(0, four_words));
    flash.power_on();
    later_without_earlier += word_at(flash, 8) == ones && word_at(flash, 16) != ones ? 1 : 0;
  }
  EXPECT_GT(later_without_earlier, 5);
}

TEST(NastyFlash, WeakBitsReadDifferentlyUntilTheyAreWrittenAgain) {
  NastyFlash flash(1, 1024, 8);
  flash.cut_at(1, Damage::weak, 1);
  EXPECT_FALSE(flash.program(0, zeros));
  flash.power_on();
  int done = 0;
  for (int i = 0; i < 100; ++i) {
    const Word got = word_at(flash, 0);
    EXPECT_TRUE(got == zeros || got == ones);
    done += got == zeros ? 1 : 0;
  }
  EXPECT_GT(done, 20);  // of 100 even tosses; fewer or more than this: once in ten million series
  EXPECT_LT(done, 80);
  EXPECT_TRUE(flash.program(0, zeros));
  EXPECT_EQ(word_at(flash, 0), zeros);
  EXPECT_EQ(word_at(flash, 0), zeros);
}

TEST(NastyFlash, BitsFlickerEachByItselfUntilTheyAreWrittenAgain) {
  std::array<int, 4> flickering{};  // how many flashes have so many of them
  for (std::uint64_t seed = 0; seed < 300; ++seed) {
    NastyFlash flash(1, 1024, 8);
    flash.cut_at(1, Damage::flicker, seed);
    EXPECT_FALSE(flash.program(0, zeros));
    flash.power_on();
    Word seen_high{}, seen_low = ones;
    for (int look = 0; look < 64; ++look) {
      const Word got = word_at(flash, 0);
      for (std::size_t i = 0; i < got.size(); ++i) {
        seen_high[i] = static_cast<std::uint8_t>(seen_high[i] | got[i]);
        seen_low[i] = static_cast<std::uint8_t>(seen_low[i] & got[i]);
      }
    }
    int bits = 0;
    for (std::size_t i = 0; i < ones.size(); ++i) {
      bits += std::popcount(static_cast<unsigned>(seen_high[i] & ~seen_low[i]));
    }
    ASSERT_TRUE(bits >= 1 && bits <= 3) << "seed " << seed << ": " << bits;
    ++flickering[static_cast<std::size_t>(bits)];
    EXPECT_TRUE(flash.program(0, zeros));
    EXPECT_EQ(word_at(flash, 0), zeros);
  }
  EXPECT_GT(flickering[1], 50);  // a third each
  EXPECT_GT(flickering[2], 50);
  EXPECT_GT(flickering[3], 50);
}

TEST(NastyFlash, TearsBehindEachByteOfAWordAndEachEighthOfAPage) {
  for (std::uint32_t n = 1; n < 8; ++n) {
    const Damage damage = damages_of(8)[all_damages.size() + n - 1];
    NastyFlash flash(1, 1024, 8);
    ASSERT_TRUE(flash.program(8, zeros));
    ASSERT_TRUE(flash.program(1016, zeros));
    NastyFlash other = flash;
    flash.cut_at(1, damage, 1);
    EXPECT_FALSE(flash.program(0, zeros));
    flash.power_on();
    Word expected = ones;
    std::fill_n(expected.begin(), n, std::uint8_t{0});
    EXPECT_EQ(word_at(flash, 0), expected);
    other.cut_at(1, damage, 1);
    EXPECT_FALSE(other.erase(0));
    other.power_on();
    EXPECT_EQ(word_at(other, 8), n % 2 == 1 ? ones : zeros);
    EXPECT_EQ(word_at(other, 1016), n % 2 == 1 ? zeros : ones);
  }
  EXPECT_EQ(damages_of(4).size() + 4, damages_of(8).size());
}

TEST(NastyFlash, AWatcherSeesEachOperationBeforeItHappens) {
  NastyFlash flash(2, 1024, 8);
  std::vector<std::uint32_t> seen;
  std::vector<std::size_t> left;
  flash.watch([&](const NastyFlash::Operation& next) {
    seen.push_back(next.address);
    left.push_back(next.words.size());
    NastyFlash torn = flash.cut_here(next, Damage::whole, 1);
    EXPECT_EQ(word_at(flash, next.address), ones) << "not yet";
    EXPECT_EQ(word_at(torn, next.address), next.words.empty() ? ones : zeros);
    EXPECT_TRUE(torn.powered());
    EXPECT_EQ(torn.operations(), flash.operations() + 1);
  });
  const std::array<std::uint8_t, 16> two_words{};
  EXPECT_TRUE(flash.program(16, two_words));
  EXPECT_TRUE(flash.erase(1024));
  EXPECT_EQ(seen, (std::vector<std::uint32_t>{16, 24, 1024}));
  EXPECT_EQ(left, (std::vector<std::size_t>{16, 8, 0}));
}

TEST(NastyFlash, AWornPageIsErasedNoMoreAndKeepsWhatItHolds) {
  NastyFlash flash(2, 1024, 8);
  flash.wears_out_after(1, 2);
  EXPECT_TRUE(flash.erase(1024));
  EXPECT_TRUE(flash.erase(1024));
  ASSERT_TRUE(flash.program(1024, zeros));
  EXPECT_FALSE(flash.erase(1024));
  EXPECT_FALSE(flash.erase(1024));
  EXPECT_EQ(word_at(flash, 1024), zeros);
  EXPECT_TRUE(flash.erase(0));
}

TEST(NastyFlash, AnErasedPageMayBeHalfDone) {
  NastyFlash flash(1, 1024, 8);
  ASSERT_TRUE(flash.program(0, zeros));
  ASSERT_TRUE(flash.program(1016, zeros));
  NastyFlash other = flash;
  flash.cut_at(1, Damage::scattered, 2);
  EXPECT_FALSE(flash.erase(0));
  flash.power_on();
  EXPECT_EQ(word_at(flash, 0), ones);
  EXPECT_EQ(word_at(flash, 1016), zeros);
  other.cut_at(1, Damage::scattered, 1);
  EXPECT_FALSE(other.erase(0));
  other.power_on();
  EXPECT_EQ(word_at(other, 0), zeros);
  EXPECT_EQ(word_at(other, 1016), ones);
}

}  // namespace
}  // namespace strandproof::test
