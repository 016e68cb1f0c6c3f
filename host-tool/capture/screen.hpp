// What a capture shows: lines for a person, or one JSON value a line for scripts (--json).
#pragma once

#include <chrono>
#include <string>

#include "host-tool/capture/capture.hpp"

namespace strandproof::host::capture {

class Screen {
 public:
  // typed_unit: of the values that are asked for, "kN".
  Screen(bool json, std::string typed_unit);

  // Where to stand, before anything else. True if a person is to answer it with Enter.
  bool caution();
  void event(const Event& event, const Capture& capture);
  void note(const std::string& text);
  // The instruction if it has changed, and a few times a second what is measured.
  void show(const Capture& capture);
  void end(const std::string& text);

 private:
  void instruct(const Instruction& now);
  void live(const Capture& capture);
  void line(const std::string& text);

  bool json_, terminal_;
  std::string typed_unit_;
  Instruction told_;
  std::chrono::steady_clock::time_point shown_;
  bool live_open_ = false;  // the cursor stands behind a live line
};

}  // namespace strandproof::host::capture
