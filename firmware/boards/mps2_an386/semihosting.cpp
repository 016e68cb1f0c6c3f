#include "firmware/boards/mps2_an386/semihosting.hpp"

namespace strandproof::board::semihosting {
namespace {

enum class Operation : std::uint32_t { open = 0x01, print = 0x04, write = 0x05, read = 0x06, leave = 0x20 };
constexpr std::uint32_t application_exit = 0x20026;  // ADP_Stopped_ApplicationExit

std::int32_t call(Operation operation, const void* argument) {
  register std::uint32_t r0 asm("r0") = static_cast<std::uint32_t>(operation);
  register const void* r1 asm("r1") = argument;
  asm volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
  return static_cast<std::int32_t>(r0);
}

std::uint32_t address(const void* p) {
  return reinterpret_cast<std::uintptr_t>(p);
}

}  // namespace

std::int32_t open(const char* name, std::size_t name_length, Mode mode) {
  const std::uint32_t block[3] = {address(name), static_cast<std::uint32_t>(mode), name_length};
  return call(Operation::open, block);
}

std::size_t read(std::int32_t handle, std::span<std::uint8_t> into) {
  const std::uint32_t block[3] = {static_cast<std::uint32_t>(handle), address(into.data()), into.size()};
  // The call returns how many bytes are missing; an error of the host also reads as "all missing".
  const std::size_t missing = static_cast<std::size_t>(call(Operation::read, block));
  return missing < into.size() ? into.size() - missing : 0;
}

bool write(std::int32_t handle, std::span<const std::uint8_t> bytes) {
  const std::uint32_t block[3] = {static_cast<std::uint32_t>(handle), address(bytes.data()), bytes.size()};
  return call(Operation::write, block) == 0;
}

void print(const char* text) {
  call(Operation::print, text);
}

void leave(std::uint32_t exit_code) {
  const std::uint32_t block[2] = {application_exit, exit_code};
  for (;;) {
    call(Operation::leave, block);
  }
}

}  // namespace strandproof::board::semihosting
