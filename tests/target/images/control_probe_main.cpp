// The controller's probe on the board.
#include "firmware/boards/mps2_an386/board.hpp"
#include "tests/target/control_probe.hpp"

extern "C" [[noreturn]] void board_main();
extern "C" void board_main() {
  strandproof::board::run_board<strandproof::probe::ControlProbe>();
}
