// The board's last words: a text and one or two numbers to the emulator's standard error, then the end.
#pragma once

#include <cstdint>

namespace strandproof::board {

inline constexpr std::uint32_t exit_fault = 3;    // the processor took a fault
inline constexpr std::uint32_t exit_channel = 4;  // the plant's side of the channel is broken
inline constexpr std::uint32_t exit_device = 5;   // no usable device block in the memory file

void print_number(const char* text, std::uint32_t value);  // "text0x0000beef", no line end
void print_count(const char* text, std::uint32_t value);   // "text48879", no line end
[[noreturn]] void fatal(const char* text, std::uint32_t exit_code);

}  // namespace strandproof::board
