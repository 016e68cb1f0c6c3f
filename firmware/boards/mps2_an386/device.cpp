#include "firmware/boards/mps2_an386/device.hpp"

#include <array>
#include <cstring>

#include "firmware/boards/mps2_an386/fatal.hpp"
#include "firmware/port/device_block.hpp"
#include "proto/crc32c.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::board {

port::Device read_device() {
  std::array<std::uint8_t, port::device_block_bytes + 4> stored;
  std::memcpy(stored.data(), reinterpret_cast<const void*>(device_block_address), stored.size());
  const auto block = std::span{stored}.first<port::device_block_bytes>();
  const std::uint32_t sum = proto::get_u32(stored.data() + port::device_block_bytes);
  port::Device device;
  if (sum != proto::crc32c(block) || !port::decode_device(block, device)) {
    fatal(
        "strandproof board: no whole device block at 0x21100000 of the memory file; "
        "commission the board first (sim::TargetBrain writes the block)",
        exit_device);
  }
  device.origin = port::Origin::emulated;
  return device;
}

}  // namespace strandproof::board
