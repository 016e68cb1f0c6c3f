#include "sim/main/terminal.hpp"

#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <cstdio>

#include "sim/fault/fault.hpp"

namespace strandproof::sim {

struct Terminal::Saved {
  termios settings;
};

Terminal::Terminal(bool quiet)
    : live_{!quiet && ::isatty(STDIN_FILENO) == 1 && ::isatty(STDOUT_FILENO) == 1} {
  if (!live_) {
    return;
  }
  saved_ = std::make_unique<Saved>();
  ::tcgetattr(STDIN_FILENO, &saved_->settings);
  termios single = saved_->settings;
  single.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO);
  ::tcsetattr(STDIN_FILENO, TCSANOW, &single);
  std::printf(
      "keys: e enables (both)  a advance  l lower  - press again to let go, space lets go of all\n"
      "      s select  c confirm  r reset    x emergency stop in/out  b barrier open/closed  q quit\n");
}

Terminal::~Terminal() {
  if (saved_ != nullptr) {
    ::tcsetattr(STDIN_FILENO, TCSANOW, &saved_->settings);
  }
}

namespace {

void toggle_fault(Bench& bench, const char* name, fault::Place place) {
  fault::Watch& faults = bench.board().faults();
  const fault::Row& row = *fault::find(name);
  if (faults.on(place, fault::Effect::opens)) {
    faults.end(row, bench.board().time_s());
  } else {
    faults.add({&row, {fault::By::time, bench.board().time_s()}});
  }
}

// A key typed twice lets go again: without this line nobody could tell which of the two it was.
std::string held(Bench& bench) {
  const Pendant& hands = bench.person().hands();
  const fault::Watch& faults = bench.board().faults();
  std::string text;
  const auto add = [&text](bool on, const char* what) {
    text += on ? (text.empty() ? "" : ", ") + std::string(what) : "";
  };
  add(hands.enable_1 && hands.enable_2, "enables");
  add(hands.advance, "advance");
  add(hands.lower, "lower");
  add(faults.on(fault::Place::emergency_stop_both, fault::Effect::opens), "emergency stop in");
  add(faults.on(fault::Place::barrier_both, fault::Effect::opens), "barrier open");
  return text.empty() ? "nothing held" : text;
}

void press(Bench& bench, const char* key) {
  bench.person().command(std::string("press ") + key + " 200 ms");
}

}  // namespace

bool Terminal::keys(Bench& bench) {
  pollfd asked{STDIN_FILENO, POLLIN, 0};
  char key = 0;
  while (live_ && ::poll(&asked, 1, 0) == 1 && ::read(STDIN_FILENO, &key, 1) == 1) {
    Pendant& hands = bench.person().hands();
    switch (key) {
      case 'e':
        hands.enable_1 = hands.enable_2 = !hands.enable_1;
        break;
      case 'a':
        hands.advance = !hands.advance;
        break;
      case 'l':
        hands.lower = !hands.lower;
        break;
      case ' ':
        bench.person().abandon();
        break;
      case 's':
        press(bench, "select");
        break;
      case 'c':
        press(bench, "confirm");
        break;
      case 'r':
        press(bench, "reset");
        break;
      case 'x':
        toggle_fault(bench, "emergency-stop", fault::Place::emergency_stop_both);
        break;
      case 'b':
        toggle_fault(bench, "barrier", fault::Place::barrier_both);
        break;
      case 'q':
        return true;
      default:
        break;
    }
  }
  return false;
}

void Terminal::show(Bench& bench, const LocalBrain& brain) {
  if (!live_) {
    return;
  }
  std::printf("%s", drawn_ ? "\033[5A" : "");
  for (const std::string& line : brain.display()) {
    std::printf("\033[2K| %-40s |\n", line.c_str());
  }
  std::printf("\033[2Khands: %s\n", held(bench).c_str());
  std::fflush(stdout);
  drawn_ = true;
}

}  // namespace strandproof::sim
