// Fault handlers: say what happened and where, then end the emulator with an exit code of its own.
#include <cstdint>

#include "firmware/boards/mps2_an386/fatal.hpp"
#include "firmware/boards/mps2_an386/semihosting.hpp"

namespace strandproof::board {

void print_number(const char* text, std::uint32_t value) {
  char digits[11] = "0x00000000";
  for (unsigned i = 0; i < 8; ++i) {
    digits[9 - i] = "0123456789abcdef"[(value >> (4 * i)) & 0xFU];
  }
  semihosting::print(text);
  semihosting::print(digits);
}

void print_count(const char* text, std::uint32_t value) {
  char digits[11] = "          ";
  unsigned at = 10;
  do {
    digits[--at] = static_cast<char>('0' + value % 10U);
    value /= 10U;
  } while (value != 0);
  semihosting::print(text);
  semihosting::print(digits + at);
}

void fatal(const char* text, std::uint32_t exit_code) {
  semihosting::print(text);
  semihosting::print("\n");
  semihosting::leave(exit_code);
}

}  // namespace strandproof::board

extern "C" {
extern const std::uint32_t stack_guard[], stack_bottom[];

// exception: ARMv7-M's exception number; frame: the eight words that the processor pushed.
[[noreturn, gnu::used]] void fault_report(std::uint32_t exception, const std::uint32_t* frame) {
  using namespace strandproof::board;
  const auto status = *reinterpret_cast<volatile std::uint32_t*>(0xE000ED28);   // CFSR
  const auto address = *reinterpret_cast<volatile std::uint32_t*>(0xE000ED34);  // MMFAR
  constexpr std::uint32_t stacking_failed = (1U << 4U) | (1U << 5U) | (1U << 12U) | (1U << 13U);
  constexpr std::uint32_t address_valid = 1U << 7U;
  const char* const name[] = {"hard fault", "memory fault", "bus fault", "usage fault"};
  semihosting::print("strandproof board: ");
  semihosting::print(name[(exception - 3U) & 3U]);
  print_number(", status ", status);
  const bool overflow =
      (status & stacking_failed) != 0 ||
      ((status & address_valid) != 0 && address >= reinterpret_cast<std::uintptr_t>(stack_guard) &&
       address < reinterpret_cast<std::uintptr_t>(stack_bottom));
  if ((status & stacking_failed) == 0) {
    print_number(", at code ", frame[6]);
  }
  if ((status & address_valid) != 0) {
    print_number(", address ", address);
  }
  fatal(overflow ? ": the stack has run into its guard" : "", exit_fault);
}

// EXC_RETURN bit 2 in lr says which stack holds the frame.
__attribute__((naked)) void fault_entry() {
  asm volatile(
      "mrs r0, ipsr\n"
      "tst lr, #4\n"
      "ite eq\n"
      "mrseq r1, msp\n"
      "mrsne r1, psp\n"
      "b fault_report\n");
}
}
