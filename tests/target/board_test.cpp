// The emulated board by itself: the same bits as the desktop from the same samples, NOR rules, device
// block, power cuts, and every fault reported by name and within its time.
#include <gtest/gtest.h>

#include <chrono>
#include <filesystem>
#include <fstream>

#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"
#include "sim/board/target_brain.hpp"
#include "tests/target/probe.hpp"

namespace strandproof {
namespace {

using probe::Request;
using sim::TargetBrain;
using sim::TargetError;

port::Device device() {
  port::Device d;
  d.jack_serial = 4711;
  d.origin = port::Origin::emulated;
  d.pressure_span = units::Pressure::from_si(1.0e8F);
  d.stroke_span = units::Length::from_si(0.3F);
  return d;
}

sim::EmulatorOptions options(const char* image) {
  sim::EmulatorOptions o;
  o.image = std::filesystem::path{STRANDPROOF_TARGET_IMAGES} / image;
  return o;
}

// A linear congruential walk (Numerical Recipes' constants): any reproducible spread of counts will do.
class Samples {
 public:
  port::RawSample next() {
    port::RawSample s;
    s.tick = tick_++;
    s.pressure_a = draw();
    s.pressure_b = draw();
    s.stroke = draw();
    s.oil_temperature = draw();
    s.digital = draw();
    return s;
  }

 private:
  std::uint16_t draw() {
    state_ = state_ * 1664525U + 1013904223U;
    return static_cast<std::uint16_t>(state_ >> 16U);
  }
  std::uint32_t tick_ = 0, state_ = 1;
};

// The same class on the desktop, over the simulated jack's flash and serial line.
struct Desktop {
  port::Device d = device();
  sim::SimFlash flash;
  sim::SimSerial serial;
  probe::Probe probe{d, flash, serial};

  sim::Answer tick(const port::RawSample& s) {
    const auto a = probe.tick(s);
    return {a.outputs, a.state, a.cause, a.load_state};
  }
};

std::vector<std::uint8_t> message(std::uint32_t tick) {
  return tick % 7 != 0 ? std::vector<std::uint8_t>{}
                       : std::vector<std::uint8_t>(1 + tick % 300, static_cast<std::uint8_t>(tick));
}

// First tick at which the two differ, or -1.
std::int64_t first_difference(const char* image, std::uint32_t ticks, std::uint32_t flip_at = UINT32_MAX) {
  TargetBrain board{options(image), device()};
  Desktop desktop;
  Samples samples;
  for (std::uint32_t i = 0; i < ticks; ++i) {
    port::RawSample s = samples.next();
    board.link_write(message(i));
    desktop.serial.push(message(i));
    const sim::Answer expected = desktop.tick(s);
    s.stroke = static_cast<std::uint16_t>(s.stroke ^ (i == flip_at ? 1U : 0U));
    if (!(board.tick(s) == expected) || board.link_read() != desktop.serial.take()) {
      return i;
    }
  }
  return board.flash_image() == desktop.flash.image() ? std::int64_t{-1} : std::int64_t{ticks};
}

TEST(EmulatedBoard, computesTheDesktopsBits) {
  EXPECT_EQ(first_difference("board_probe.elf", 40000), -1);
}

// The two checks that show the comparison above failing.
TEST(EmulatedBoard, aFusedMultiplyAddIsFound) {
  const std::int64_t at = first_difference("board_probe_fused.elf", 40000);
  EXPECT_GE(at, 0);
  EXPECT_LT(at, 100) << "the probe's sums of products should differ almost at once";
}

TEST(EmulatedBoard, oneCountIsFoundInItsTick) {
  EXPECT_EQ(first_difference("board_probe.elf", 40000, 12345), 12345);
}

TEST(EmulatedBoard, flashOutlivesAPowerCut) {
  TargetBrain board{options("board_probe.elf"), device()};
  Samples samples;
  for (unsigned i = 0; i < 1000; ++i) {
    (void)board.tick(samples.next());
  }
  const auto before = board.flash_image();
  board.power_cycle();
  EXPECT_EQ(board.flash_image(), before);
  Desktop desktop;  // a fresh boot starts its sums anew: the answer is the one of a first tick
  const port::RawSample s = Samples{}.next();
  EXPECT_EQ(board.tick(s), desktop.tick(s));
}

TEST(EmulatedBoard, saysHowMuchStackItHasUsed) {
  TargetBrain board{options("board_probe.elf"), device()};
  (void)board.tick(Samples{}.next());
  const sim::BoardReport r = board.shut_down();
  EXPECT_EQ(r.stack_size, 32U * 1024U);
  EXPECT_GT(r.stack_used, 100U);
  EXPECT_LT(r.stack_used, 1024U);
}

// Instructions are counted, so a run is the same to the last one.
TEST(EmulatedBoard, countsTheSameInstructionsTwice) {
  const auto longest = [] {
    auto o = options("board_probe.elf");
    o.count_instructions = true;
    TargetBrain board{o, device()};
    Samples samples;
    for (unsigned i = 0; i < 2000; ++i) {
      (void)board.tick(samples.next());
    }
    return board.shut_down().longest_tick_moving;
  };
  const std::uint32_t first = longest();
  EXPECT_GT(first, 100U);
  EXPECT_EQ(longest(), first);
}

struct Fault {
  const char* name;
  Request request;
  const char* words;
};
void PrintTo(const Fault& fault, std::ostream* to) {
  *to << fault.name;
}

class BoardFault : public testing::TestWithParam<Fault> {};

TEST_P(BoardFault, isReportedByName) {
  TargetBrain board{options("board_probe.elf"), device()};
  Samples samples;
  (void)board.tick(samples.next());
  port::RawSample s = samples.next();
  s.load_cell = static_cast<std::uint16_t>(GetParam().request);
  try {
    (void)board.tick(s);
    FAIL() << "the board has carried on";
  } catch (const TargetError& e) {
    EXPECT_NE(std::string{e.what()}.find(GetParam().words), std::string::npos) << e.what();
  }
}

INSTANTIATE_TEST_SUITE_P(
    All, BoardFault,
    testing::Values(Fault{"StackOverflow", Request::overflow_stack, "the stack has run into its guard"},
                    Fault{"NullWrite", Request::write_null, "memory fault"},
                    Fault{"RunData", Request::run_data, "memory fault"},
                    Fault{"FlashWriteOutsideTheDriver", Request::write_flash_directly, "address 0x21000000"},
                    Fault{"DivideByZero", Request::divide_by_zero, "usage fault"}),
    [](const auto& about) { return std::string{about.param.name}; });

TEST(EmulatedBoard, aHangEndsInItsTime) {
  auto o = options("board_probe.elf");
  o.answer_timeout = std::chrono::milliseconds{300};
  TargetBrain board{o, device()};
  Samples samples;
  (void)board.tick(samples.next());
  port::RawSample s = samples.next();
  s.load_cell = static_cast<std::uint16_t>(Request::hang);
  const auto start = std::chrono::steady_clock::now();
  try {
    (void)board.tick(s);
    FAIL() << "the board has carried on";
  } catch (const TargetError& e) {
    EXPECT_NE(std::string{e.what()}.find("has not answered for 300 ms"), std::string::npos) << e.what();
  }
  EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds{3});
}

TEST(EmulatedBoard, aMissingImageOrEmulatorSaysWhatToDo) {
  try {
    TargetBrain board{options("no_such.elf"), device()};
    FAIL();
  } catch (const TargetError& e) {
    EXPECT_NE(std::string{e.what()}.find("cmake --preset arm"), std::string::npos) << e.what();
  }
  auto o = options("board_probe.elf");
  o.program = "no-such-emulator";
  TargetBrain board{o, device()};
  try {
    (void)board.tick(Samples{}.next());
    FAIL();
  } catch (const TargetError& e) {
    EXPECT_NE(std::string{e.what()}.find("apt-get install qemu-system-arm"), std::string::npos) << e.what();
  }
}

TEST(EmulatedBoard, aDamagedDeviceBlockIsRefused) {
  sim::Emulator board{options("board_probe.elf")};  // memory all zero: never commissioned
  board.start();
  EXPECT_EQ(board.wait_for_exit(), 5);
  EXPECT_NE(board.printed().find("no whole device block"), std::string::npos) << board.printed();
}

}  // namespace
}  // namespace strandproof
