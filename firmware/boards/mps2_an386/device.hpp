// What this board is: read from the device block in the second MiB of the memory file.
#pragma once

#include "firmware/port/device.hpp"

namespace strandproof::board {

inline constexpr std::uint32_t device_block_address = 0x21100000;

// Ends the board with a clear text if there is no whole block. The origin is always "emulated".
[[nodiscard]] port::Device read_device();

}  // namespace strandproof::board
