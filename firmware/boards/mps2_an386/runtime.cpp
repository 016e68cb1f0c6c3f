// The few symbols that the compiler expects of a C++ runtime. There is none here: no exceptions, no
// heap, no destructors of statics (the board never ends but by fatal()).
#include "firmware/boards/mps2_an386/fatal.hpp"

extern "C" {

void* __dso_handle = nullptr;

[[noreturn]] void __cxa_pure_virtual() {
  strandproof::board::fatal("strandproof board: a call of a pure virtual function",
                            strandproof::board::exit_fault);
}

// Destructors of statics are registered here and never run.
int __aeabi_atexit(void*, void (*)(void*), void*) {
  return 0;
}

[[noreturn]] void abort() {
  strandproof::board::fatal("strandproof board: abort", strandproof::board::exit_fault);
}
}
