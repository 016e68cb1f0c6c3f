// The reference cell's serial line: opened, read hardly waiting, and opened again after it was pulled.
#pragma once

#include <chrono>
#include <memory>
#include <string>
#include <vector>

#include "host-tool/capture/cell.hpp"
#include "host-tool/link/line.hpp"

namespace strandproof::host::capture {

class CellPort {
 public:
  // Throws Problem (fault) as link::open_line does.
  explicit CellPort(std::string port);

  // What has come since; waits a millisecond at most.
  std::vector<double> read();
  [[nodiscard]] bool silent() const;  // no value for a second
  // What a person must know, once: the line lost, back, or full of what is no value. "" for nothing.
  std::string news();

 private:
  using Clock = std::chrono::steady_clock;
  void open_again();

  std::string port_;
  std::unique_ptr<link::Line> line_;
  CellText text_;
  Clock::time_point heard_, tried_;
  std::size_t garbage_told_ = 0;
  std::string news_;
};

}  // namespace strandproof::host::capture
