// Everything between board_main and the loop, for any controller: device, flash, link, channel.
#pragma once

#include "firmware/boards/mps2_an386/channel.hpp"
#include "firmware/boards/mps2_an386/device.hpp"
#include "firmware/boards/mps2_an386/fatal.hpp"
#include "firmware/boards/mps2_an386/flash.hpp"
#include "firmware/boards/mps2_an386/lockstep_loop.hpp"
#include "firmware/boards/mps2_an386/semihosting.hpp"
#include "firmware/boards/mps2_an386/serial.hpp"
#include "firmware/boards/mps2_an386/stack.hpp"

namespace strandproof::board {

// Controller is made from (const port::Device&, port::Flash&, port::Serial&) and has start() and tick().
// Static, not on the stack: a controller's size is seen by the linker, the stack's depth by callgraph.py.
template <class Controller>
[[noreturn]] void run_board() {
  static const port::Device device = read_device();
  static BoardFlash flash;
  static SerialRings rings;
  static BoardSerial serial{rings};
  static Channel channel;
  channel.open();
  static Controller controller{device, flash, serial};
  controller.start();
  static LockStepLoop<Controller> loop{channel, serial, controller};
  loop.run();
  print_count("strandproof board: stack ", stack_used_bytes());
  print_count(" of ", stack_size_bytes());
  print_count(" bytes, longest tick at rest ", loop.timer().longest_at_rest());
  print_count(" and moving ", loop.timer().longest_moving());
  fatal(" counts of 40 ns", 0);
}

}  // namespace strandproof::board
