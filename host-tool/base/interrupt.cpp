#include "host-tool/base/interrupt.hpp"

#include <csignal>

namespace strandproof::host {
namespace {

volatile std::sig_atomic_t seen = 0;

}  // namespace

void stop_on_interrupt() {
  struct sigaction action {};
  action.sa_handler = [](int) { seen = 1; };
  action.sa_flags = static_cast<int>(SA_RESETHAND);
  ::sigaction(SIGINT, &action, nullptr);
}

bool interrupted() {
  return seen != 0;
}

}  // namespace strandproof::host
