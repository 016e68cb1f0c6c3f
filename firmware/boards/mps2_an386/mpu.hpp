// Memory protection: code can not be written, data can not be executed, the null page and the guard
// below the stack can not be touched, and the flash window is read-only but while its driver writes.
#pragma once

namespace strandproof::board {

void enable_memory_protection();

// Opens the flash window for writing as long as it lives. A stray store anywhere else faults.
class FlashWindowOpen {
 public:
  FlashWindowOpen();
  ~FlashWindowOpen();
  FlashWindowOpen(const FlashWindowOpen&) = delete;
  FlashWindowOpen& operator=(const FlashWindowOpen&) = delete;
};

}  // namespace strandproof::board
