// The probe's image, and what it does on request: each request breaks one promise of the board, so that
// the test sees the board say so.
#include "firmware/boards/mps2_an386/board.hpp"
#include "tests/target/probe.hpp"

namespace strandproof::probe {
namespace {

using Code = void (*)();

void write_at(std::uint32_t address) {
  *reinterpret_cast<volatile std::uint32_t*>(address) = 1;
}

// Eats the stack in frames of about 1 KiB until it meets the guard.
[[gnu::noinline]] std::uint32_t dig(std::uint32_t depth) {
  volatile std::uint32_t frame[256];
  frame[depth % 256U] = depth;
  const std::uint32_t below = depth == 0 ? 0 : dig(depth - 1U);
  return below + frame[depth % 256U];
}

void run_data() {
  static volatile std::uint32_t instruction = 0x4770BF00;  // nop; bx lr
  reinterpret_cast<Code>(reinterpret_cast<std::uintptr_t>(&instruction) | 1U)();
}

void divide_by_zero() {
  volatile std::int32_t hundred = 100, zero = 0;  // a constant dividend would be no division
  hundred = hundred / zero;
}

}  // namespace

void obey(Request request) {
  switch (request) {
    case Request::none:
      return;
    case Request::overflow_stack:
      (void)dig(1000);
      return;
    case Request::write_null:
      write_at(0);
      return;
    case Request::run_data:
      run_data();
      return;
    case Request::write_flash_directly:
      write_at(board::BoardFlash::base);
      return;
    case Request::divide_by_zero:
      divide_by_zero();
      return;
    case Request::hang:
      for (;;) {
        asm volatile("");
      }
  }
}

}  // namespace strandproof::probe

extern "C" [[noreturn]] void board_main();
extern "C" void board_main() {
  strandproof::board::run_board<strandproof::probe::Probe>();
}
