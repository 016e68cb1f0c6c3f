// The desktop end of the probe's requests: none of them is for this machine.
#include <stdexcept>

#include "tests/target/probe.hpp"

namespace strandproof::probe {

void obey(Request) {
  throw std::logic_error("a fault request was sent to the desktop's probe");
}

}  // namespace strandproof::probe
