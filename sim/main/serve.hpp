// The simulated jack as a machine on the table: a serial line for the host, an operator channel for
// scripts, the keyboard as the pendant, paced by the wall clock.
#pragma once

#include <cstdint>
#include <string>

#include "sim/bench/scenario.hpp"

namespace strandproof::sim {

struct ServeOptions {
  std::string link = "/tmp/strandproof-jack";       // symbolic link to the pseudo-terminal; empty: none
  std::uint16_t tcp_port = 0;                       // 0: none
  std::string operator_path;                        // empty: the link's name with ".operator"
  std::string flash_file;                           // empty: forgotten at the end
  double speed = 1.0;                               // virtual seconds a second
  bool quiet = false;                               // no display on the terminal
  bool rig = false;                                 // on the calibration rig instead of the bed
  std::string cell_link = "/tmp/strandproof-cell";  // at the rig: pseudo-terminal of the cell; empty: none
};

// Runs until `quit`, the q key, or a signal. Throws std::runtime_error for what keeps it from starting.
int serve(const Scenario& scenario, const ServeOptions& options);

// The operator channel's place for these options.
std::string operator_path(const ServeOptions& options);

}  // namespace strandproof::sim
