// The firmware's image for the emulated board: the same app as on the desktop.
#include "firmware/app/app.hpp"
#include "firmware/boards/mps2_an386/board.hpp"

extern "C" [[noreturn]] void board_main();
extern "C" void board_main() {
  strandproof::board::run_board<strandproof::app::App>();
}
