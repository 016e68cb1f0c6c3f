// One qemu-system-arm process with its folder, its two FIFOs and its memory file. Every wait has an end:
// a dead or silent emulator becomes a TargetError that carries the board's last words.
#pragma once

#include <sys/types.h>

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <span>
#include <stdexcept>
#include <string>
#include <vector>

namespace strandproof::sim {

class TargetError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

struct EmulatorOptions {
  std::filesystem::path image;                     // the firmware's ELF file
  std::string program = "qemu-system-arm";         // found on PATH
  std::chrono::milliseconds start_timeout{10000};  // from start to the first answer
  std::chrono::milliseconds answer_timeout{5000};  // for any later answer
  bool count_instructions = false;                 // -icount: the guest's time is its instruction count
};

class Emulator {
 public:
  static constexpr std::size_t memory_bytes = std::size_t{16} << 20U;

  // Makes the folder and an erased memory file, starts nothing yet. Throws TargetError.
  explicit Emulator(EmulatorOptions options);
  ~Emulator();
  Emulator(const Emulator&) = delete;
  Emulator& operator=(const Emulator&) = delete;

  void start();
  // The supply is cut: the emulator dies where it stands; its memory file stays.
  void cut_power();

  // Throw TargetError if the board is dead or does not take or give the bytes in time.
  void send(std::span<const std::uint8_t> bytes);
  std::size_t receive(std::span<std::uint8_t> into);  // at least one byte
  // Waits for the board to leave by itself; its exit code. Its last words are in printed().
  int wait_for_exit();

  // The board's 16 MiB at 0x21000000, shared with the running emulator.
  [[nodiscard]] std::span<std::uint8_t> memory() { return {memory_, memory_bytes}; }
  [[nodiscard]] std::string printed() const;  // what the board has written to its console

 private:
  struct Folder {
    std::filesystem::path path;
    ~Folder();
  };

  void make_folder();
  void map_memory();
  void open_channel();
  void close_channel();
  [[nodiscard]] std::vector<std::string> command() const;
  [[noreturn]] void become_emulator(const std::vector<char*>& arguments) const;
  void wait_until_ready(int fd, short what);
  [[nodiscard]] bool reap(bool wait);
  [[noreturn]] void fail(const std::string& what) const;

  EmulatorOptions options_;
  Folder folder_;
  std::uint8_t* memory_ = nullptr;
  int to_board_ = -1, from_board_ = -1;
  pid_t process_ = -1;
  int exit_status_ = 0;
  bool answered_ = false;
};

}  // namespace strandproof::sim
