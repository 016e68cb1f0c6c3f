// How deep the stack has been: painted at the start, measured on request.
#pragma once

#include <cstdint>

namespace strandproof::board {

void paint_stack();  // once, before board_main
[[nodiscard]] std::uint32_t
stack_used_bytes();  // deepest use so far; a hole in the paint can only hide depth
[[nodiscard]] std::uint32_t stack_size_bytes();

}  // namespace strandproof::board
