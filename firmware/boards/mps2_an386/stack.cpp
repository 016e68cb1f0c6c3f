#include "firmware/boards/mps2_an386/stack.hpp"

extern "C" std::uint32_t stack_bottom[], stack_top[];

namespace strandproof::board {
namespace {

constexpr std::uint32_t paint = 0xC5C5C5C5;
constexpr std::uint32_t red_zone_words = 32;  // the painter's own frame

}  // namespace

void paint_stack() {
  std::uint32_t here = 0;
  asm volatile("mov %0, sp" : "=r"(here));
  std::uint32_t* const end = reinterpret_cast<std::uint32_t*>(here) - red_zone_words;
  for (std::uint32_t* p = stack_bottom; p < end; ++p) {
    *p = paint;
  }
}

std::uint32_t stack_used_bytes() {
  const std::uint32_t* p = stack_bottom;
  while (p < stack_top && *p == paint) {
    ++p;
  }
  return static_cast<std::uint32_t>(stack_top - p) * 4U;
}

std::uint32_t stack_size_bytes() {
  return static_cast<std::uint32_t>(stack_top - stack_bottom) * 4U;
}

}  // namespace strandproof::board
