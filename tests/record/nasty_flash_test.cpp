// The test double is tested first: a flash that is too kind would make every power cut look survived.
#include "tests/record/nasty_flash.hpp"

#include <gtest/gtest-spi.h>

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

TEST(NastyFlash, RefusesWhatTheContractForbids) {
  static NastyFlash flash(2, 1024, 8);
  ASSERT_TRUE(flash.program(0, zeros));
  EXPECT_NONFATAL_FAILURE((void)flash.program(0, ones), "turn a 0 into a 1");
  EXPECT_NONFATAL_FAILURE((void)flash.program(4, zeros), "against the contract");
  EXPECT_NONFATAL_FAILURE((void)flash.program(8, std::span{zeros}.first(4)), "against the contract");
  EXPECT_NONFATAL_FAILURE((void)flash.program(2048, zeros), "against the contract");
  EXPECT_NONFATAL_FAILURE((void)flash.erase(512), "against the contract");
  static Word into;
  EXPECT_NONFATAL_FAILURE((void)flash.read(2044, into), "outside the flash");
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
