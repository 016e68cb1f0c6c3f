// The terminal as pendant and display: keys move the hands, four lines show what the controller shows, a
// fifth what the hands hold.
#pragma once

#include <memory>
#include <string>

#include "sim/bench/bench.hpp"
#include "sim/main/local_brain.hpp"

namespace strandproof::sim {

class Terminal {
 public:
  // Puts a real terminal into single-key mode and back at the end; does nothing for a pipe.
  explicit Terminal(bool quiet);
  ~Terminal();
  Terminal(const Terminal&) = delete;
  Terminal& operator=(const Terminal&) = delete;

  // Takes the keys typed since; true if q was among them.
  bool keys(Bench& bench);
  void show(Bench& bench, const LocalBrain& brain);

 private:
  bool live_ = false;
  bool drawn_ = false;
  struct Saved;
  std::unique_ptr<Saved> saved_;
};

}  // namespace strandproof::sim
