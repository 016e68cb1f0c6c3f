// From reset to board_main: vectors, stacks, FPU, memory, MPU, constructors.
//
// Thread code runs on the process stack, faults on the main stack: a fault that says "the stack is
// full" must have a stack of its own, or the processor locks up and QEMU aborts without a word.
#include <cstdint>

#include "firmware/boards/mps2_an386/fatal.hpp"
#include "firmware/boards/mps2_an386/mpu.hpp"
#include "firmware/boards/mps2_an386/stack.hpp"

extern "C" {
extern std::uint32_t data_begin[], data_end[], bss_begin[], bss_end[];
extern const std::uint32_t data_load[];
using Constructor = void (*)();
extern const Constructor init_array_begin[], init_array_end[];
extern const std::uint32_t fault_stack_top[];

[[noreturn]] void board_main();  // each image has its own
[[noreturn]] void reset_handler();
[[noreturn]] void fault_entry();
[[noreturn]] void start();
}

namespace {

using strandproof::board::exit_fault;
using strandproof::board::fatal;

struct Vectors {
  const void* initial_stack;
  void (*handler[15])();
};

void no_interrupt() {
  fatal("strandproof board: an exception that nothing here asked for", exit_fault);
}

// Fault numbers as ARMv7-M counts exceptions: 1 reset, 2 NMI, 3 hard, 4 memory, 5 bus, 6 usage.
[[gnu::section(".vectors"), gnu::used]] const Vectors vectors{
    fault_stack_top,
    {reset_handler, no_interrupt, fault_entry, fault_entry, fault_entry, fault_entry, no_interrupt,
     no_interrupt, no_interrupt, no_interrupt, no_interrupt, no_interrupt, no_interrupt, no_interrupt,
     no_interrupt}};

void fill_memory() {
  const std::uint32_t* from = data_load;
  for (std::uint32_t* to = data_begin; to != data_end; ++to, ++from) {
    *to = *from;
  }
  for (std::uint32_t* to = bss_begin; to != bss_end; ++to) {
    *to = 0;
  }
}

}  // namespace

// In assembly because no compiled line may run before it: any function may use the FPU or the stack.
// 0xE000ED88 is CPACR; both coprocessors of the FPU get full access. Control bit 1 selects the process
// stack. Default rounding (nearest, subnormals kept) is FPSCR's reset value.
__attribute__((naked)) void reset_handler() {
  asm volatile(
      "ldr r0, =0xE000ED88\n"
      "ldr r1, [r0]\n"
      "orr r1, r1, #0x00F00000\n"
      "str r1, [r0]\n"
      "ldr r0, =stack_top\n"
      "msr psp, r0\n"
      "movs r0, #2\n"
      "msr control, r0\n"
      "dsb\n"
      "isb\n"
      "b start\n");
}

void start() {
  fill_memory();
  strandproof::board::paint_stack();
  strandproof::board::enable_memory_protection();
  for (const Constructor* c = init_array_begin; c != init_array_end; ++c) {
    (*c)();
  }
  board_main();
}
