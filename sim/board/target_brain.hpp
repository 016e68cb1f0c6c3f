// The firmware's image on an emulated Cortex-M4F as a Brain: the plant's side of the lock-step channel.
//
// Link bytes given by link_write() reach the board before the next tick; what the board has queued by the
// end of a tick is fetched with that tick. A desktop brain behaves the same to the byte if its link is
// read after every tick.
#pragma once

#include <array>
#include <vector>

#include "firmware/port/device.hpp"
#include "sim/board/brain.hpp"
#include "sim/board/emulator.hpp"

namespace strandproof::sim {

// What a board says of itself when it is switched off in order.
struct BoardReport {
  std::uint32_t stack_used = 0, stack_size = 0;  // bytes; used: as painting shows it
  // Longest ticks, counts of 40 ns of the board's timer: instructions / 2.5 with count_instructions, else
  // the host's own time. Moving: some output but horn and lamp was energised.
  std::uint32_t longest_tick_at_rest = 0, longest_tick_moving = 0;
};

class TargetBrain final : public Brain {
 public:
  static constexpr std::size_t flash_bytes = std::size_t{1} << 20U;  // SimFlash has the same geometry
  static constexpr std::size_t device_block_offset = flash_bytes;    // in the memory file

  // Commissions a board with erased flash and starts it. Throws TargetError with what, where and the
  // remedy; so does every other call if the board is dead or silent.
  TargetBrain(EmulatorOptions options, const port::Device& device);

  Answer tick(const port::RawSample& sample) override;
  void link_write(std::span<const std::uint8_t> bytes) override;
  std::vector<std::uint8_t> link_read() override;
  std::vector<std::uint8_t> flash_image() override;

  // Takes the supply away where the board stands and gives it back: a boot from the same flash. Bytes of
  // the link that were under way are lost.
  void power_cycle() override;
  BoardReport shut_down();

 private:
  std::size_t request(const port::RawSample& sample);
  void add_link_request(std::span<const std::uint8_t> bytes);
  void take(std::span<std::uint8_t> into);
  std::size_t take_link_answer();

  Emulator emulator_;
  std::vector<std::uint8_t> to_link_, from_link_;
  std::vector<std::uint8_t> request_;
  std::array<std::uint8_t, 4096> inbox_{};  // received, not yet taken
  std::size_t inbox_in_ = 0, inbox_out_ = 0;
};

}  // namespace strandproof::sim
