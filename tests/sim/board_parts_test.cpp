// Channel, flash and serial of the simulated board. Levels from NAMUR NE 43: measuring 3.8 to 20.5 mA,
// failure at 3.6 mA and less or 21.0 mA and more.
#include <gtest/gtest.h>
#include <unistd.h>

#include <array>

#include "sim/board/channel.hpp"
#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"

namespace strandproof::sim {
namespace {

double milliampere(std::uint16_t counts) {
  return counts * 24.0 / 65535.0;
}

TEST(Channel, FourToTwentyOverTheSpan) {
  Channels<1> channel(std::array{ChannelParameters{.low = 0.0, .high = 100e6}});
  EXPECT_NEAR(milliampere(channel.sample({0.0}, {0.0}, {Wiring::sound})[0]), 4.0, 2e-4);
  EXPECT_NEAR(milliampere(channel.sample({50e6}, {0.0}, {Wiring::sound})[0]), 12.0, 2e-4);  // trade.md 7
  EXPECT_NEAR(milliampere(channel.sample({100e6}, {0.0}, {Wiring::sound})[0]), 20.0, 2e-4);
}

TEST(Channel, LinearityErrorIsFullInTheMiddleAndNothingAtTheEnds) {
  Channels<1> channel(std::array{ChannelParameters{.low = 0.0, .high = 100e6, .linearity = 0.01}});
  EXPECT_NEAR(milliampere(channel.sample({0.0}, {0.0}, {Wiring::sound})[0]), 4.0, 2e-4);
  EXPECT_NEAR(milliampere(channel.sample({50e6}, {0.0}, {Wiring::sound})[0]), 12.16, 2e-4);  // 1 % of 16 mA
  EXPECT_NEAR(milliampere(channel.sample({25e6}, {0.0}, {Wiring::sound})[0]), 8.12,
              2e-4);  // three quarters of it
  EXPECT_NEAR(milliampere(channel.sample({100e6}, {0.0}, {Wiring::sound})[0]), 20.0, 2e-4);
}

TEST(Channel, SoundSignalsSaturateInsideNe43AndFailedOnesLieOutside) {
  Channels<1> channel(std::array{ChannelParameters{.low = 0.0, .high = 100e6}});
  EXPECT_NEAR(milliampere(channel.sample({-50e6}, {0.0}, {Wiring::sound})[0]), 3.8, 2e-4);
  EXPECT_NEAR(milliampere(channel.sample({200e6}, {0.0}, {Wiring::sound})[0]), 20.5, 2e-4);
  EXPECT_LE(milliampere(channel.sample({50e6}, {0.0}, {Wiring::open_circuit})[0]), 3.6);
  EXPECT_GE(milliampere(channel.sample({50e6}, {0.0}, {Wiring::short_circuit})[0]), 21.0);
}

TEST(Channel, StuckKeepsTheLastSoundSampleWithItsNoise) {
  Channels<1> channel(std::array{ChannelParameters{.low = 0.0, .high = 100e6, .noise = 0.001}});
  const std::uint16_t before = channel.sample({30e6}, {1.0}, {Wiring::sound})[0];
  EXPECT_EQ(channel.sample({90e6}, {-3.0}, {Wiring::stuck})[0], before);
  EXPECT_NE(channel.sample({90e6}, {-3.0}, {Wiring::sound})[0], before);
}

TEST(Channel, FourInLanesReadAsEachAlone) {
  const std::array<ChannelParameters, 4> of{
      ChannelParameters{.low = 0.0, .high = 100e6, .noise = 0.001},
      ChannelParameters{.low = 0.0, .high = 70e6, .gain = 0.01},
      ChannelParameters{.low = 0.0, .high = 0.5, .zero = 0.002},
      ChannelParameters{.low = -20.0, .high = 100.0, .linearity = 0.01}};
  const std::array<double, 4> first{30e6, 90e6, -1.0, 40.0}, then{31e6, 20e6, 0.3, 90.0};
  const std::array<double, 4> draws{1.0, 2.0, -3.0, 0.5};
  Channels<4> all(of);
  const std::array<std::uint16_t, 4> before = all.sample(first, draws);
  for (std::size_t i = 0; i < of.size(); ++i) {
    EXPECT_EQ(before[i], Channels<1>(std::array{of[i]}).sample({first[i]}, {draws[i]})[0]) << "lane " << i;
  }
  const std::array<std::uint16_t, 4> wired =
      all.sample(then, draws, {Wiring::sound, Wiring::open_circuit, Wiring::stuck, Wiring::short_circuit});
  EXPECT_EQ(wired[0], Channels<1>(std::array{of[0]}).sample({then[0]}, {draws[0]})[0]);
  EXPECT_EQ(wired[1], 0);
  EXPECT_EQ(wired[2], before[2]);
  EXPECT_EQ(wired[3], 65535);
}

TEST(SimFlash, KeepsTheRulesOfNor) {
  SimFlash flash;
  std::array<std::uint8_t, 4> word{0xF0, 0xFF, 0x00, 0x12};
  EXPECT_TRUE(flash.program(8, word));
  word = {0xF1, 0xFF, 0x00, 0x12};
  EXPECT_FALSE(flash.program(8, word)) << "a bit would be raised";
  EXPECT_FALSE(flash.program(6, word)) << "crooked address";
  EXPECT_FALSE(flash.erase(5)) << "crooked page";
  EXPECT_FALSE(flash.program(SimFlash::bytes, word)) << "outside";
  EXPECT_EQ(flash.violations(), 4U);
  std::array<std::uint8_t, 4> back{};
  EXPECT_TRUE(flash.read(8, back));
  EXPECT_EQ(back[0], 0xF0);
  EXPECT_TRUE(flash.erase(0));
  EXPECT_TRUE(flash.read(8, back));
  EXPECT_EQ(back[0], 0xFF);
}

TEST(SimFlash, IsKeptInAFileOnlyOnRequestAndByOneProgram) {
  const std::string path = testing::TempDir() + "/flash-" + std::to_string(::getpid());
  const std::array<std::uint8_t, 4> word{1, 2, 3, 4};
  {
    SimFlash flash;
    flash.keep_in(path);
    EXPECT_TRUE(flash.program(4096, word));
    SimFlash second;
    EXPECT_THROW(second.keep_in(path), std::runtime_error);
  }
  SimFlash again;
  again.keep_in(path);
  std::array<std::uint8_t, 4> back{};
  EXPECT_TRUE(again.read(4096, back));
  EXPECT_EQ(back, word);
  ::unlink(path.c_str());
  EXPECT_THROW(SimFlash().keep_in("/no/such/folder/flash"), std::runtime_error);
}

TEST(SimSerial, RefusesWhatDoesNotFitAndKeepsTheOrder) {
  SimSerial serial;
  const std::vector<std::uint8_t> half(SimSerial::send_buffer / 2 + 1, 7);
  EXPECT_TRUE(serial.write(half));
  EXPECT_FALSE(serial.write(half));
  EXPECT_EQ(serial.take().size(), half.size());
  const std::array<std::uint8_t, 3> in{1, 2, 3};
  serial.push(in);
  std::array<std::uint8_t, 2> two{};
  EXPECT_EQ(serial.read(two), 2U);
  EXPECT_EQ(two[1], 2);
  EXPECT_EQ(serial.read(two), 1U);
  EXPECT_EQ(two[0], 3);
}

}  // namespace
}  // namespace strandproof::sim
