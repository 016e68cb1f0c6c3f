// The few semihosting calls that the board needs (Arm, "Semihosting for AArch32 and AArch64", 2.0).
// Each one stops the processor until the emulator has done it. Without an emulator that has semihosting
// on they are a fault, so this board runs under QEMU only.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace strandproof::board::semihosting {

enum class Mode : std::uint32_t { read_bytes = 1, write_bytes = 5 };  // fopen's "rb" and "wb"

// A handle of the named file or FIFO in the emulator's folder; negative if it can not be opened.
// Opening a FIFO waits for the other end. name: zero-terminated.
[[nodiscard]] std::int32_t open(const char* name, std::size_t name_length, Mode mode);

// Waits for at least one byte; how many came, 0 at the end of the file or on an error.
[[nodiscard]] std::size_t read(std::int32_t handle, std::span<std::uint8_t> into);

// True if all of the bytes were taken.
[[nodiscard]] bool write(std::int32_t handle, std::span<const std::uint8_t> bytes);

// One zero-terminated text to the emulator's standard error.
void print(const char* text);

// Ends the emulator with this exit code.
[[noreturn]] void leave(std::uint32_t exit_code);

}  // namespace strandproof::board::semihosting
