// An image that does everything an image may not do, so that image_symbols.py and worst_stack.py are seen
// finding it. It is never run.
#include <cstdint>
#include <cstdlib>

#include "firmware/boards/mps2_an386/fatal.hpp"

extern "C" void* _sbrk(int) {
  return nullptr;
}

namespace {

void (*volatile somewhere)() = nullptr;

[[gnu::noinline]] std::uint32_t pong(std::uint32_t n);
[[gnu::noinline]] std::uint32_t ping(std::uint32_t n) {
  return n == 0 ? 0 : pong(n - 1U) + n;
}
std::uint32_t pong(std::uint32_t n) {
  return n == 0 ? 1 : ping(n - 1U) ^ n;
}

[[gnu::noinline]] std::uint32_t take_variable(std::uint32_t n) {
  auto* const p = static_cast<volatile std::uint32_t*>(__builtin_alloca(n));
  p[0] = n;
  return p[0];
}

}  // namespace

extern "C" [[noreturn]] void board_main();
extern "C" void board_main() {
  volatile std::uint32_t n = 4;
  somewhere();
  n = ping(n) + take_variable(n);
  strandproof::board::fatal(std::malloc(n) == nullptr ? "no" : "yes", n);
}
