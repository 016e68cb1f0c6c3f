#include "firmware/boards/mps2_an386/mpu.hpp"

#include <cstdint>

#include "firmware/boards/mps2_an386/flash.hpp"

// Register addresses and bits: ARMv7-M Architecture Reference Manual (DDI 0403), B3.2 and B3.5.
namespace strandproof::board {
namespace {

volatile std::uint32_t& at(std::uint32_t address) {
  return *reinterpret_cast<volatile std::uint32_t*>(address);
}

constexpr std::uint32_t configuration_control = 0xE000ED14;
constexpr std::uint32_t handler_control = 0xE000ED24;
constexpr std::uint32_t mpu_control = 0xE000ED94;
constexpr std::uint32_t mpu_region = 0xE000ED98;
constexpr std::uint32_t mpu_base = 0xE000ED9C;
constexpr std::uint32_t mpu_attributes = 0xE000EDA0;

constexpr std::uint32_t no_access = 0U << 24U;
constexpr std::uint32_t read_write = 1U << 24U;
constexpr std::uint32_t read_only = 5U << 24U;
constexpr std::uint32_t never_execute = 1U << 28U;
constexpr std::uint32_t normal_memory = 1U << 17U;  // cacheable, write-through, not shared

// power: the region is 2^power bytes and starts at a multiple of that.
void set_region(std::uint32_t number, std::uint32_t base, std::uint32_t power, std::uint32_t access) {
  at(mpu_region) = number;
  at(mpu_base) = base;
  at(mpu_attributes) = access | normal_memory | ((power - 1U) << 1U) | 1U;
}

void barrier() {
  asm volatile("dsb\n isb" ::: "memory");
}

constexpr std::uint32_t flash_region = 2;

void set_flash_access(std::uint32_t access) {
  set_region(flash_region, BoardFlash::base, 24, access | never_execute);
  barrier();
}

}  // namespace

void enable_memory_protection() {
  set_region(0, 0x00000000, 22, read_only);
  set_region(1, 0x20000000, 22, read_write | never_execute);
  set_flash_access(read_only);
  // Higher numbers win where regions overlap.
  set_region(6, 0x00000000, 8, no_access | never_execute);
  set_region(7, 0x20000000, 12, no_access | never_execute);  // stack_guard of the linker script
  at(configuration_control) =
      at(configuration_control) | (1U << 4U);               // integer division by zero faults, as on x86
  at(handler_control) = at(handler_control) | (7U << 16U);  // memory, bus and usage faults by name
  at(mpu_control) = 1U;  // no default map: what no region names can not be touched
  barrier();
}

FlashWindowOpen::FlashWindowOpen() {
  set_flash_access(read_write);
}
FlashWindowOpen::~FlashWindowOpen() {
  set_flash_access(read_only);
}

}  // namespace strandproof::board
