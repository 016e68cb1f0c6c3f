#include "sim/main/serve.hpp"

#include <chrono>
#include <csignal>
#include <cstdio>
#include <stdexcept>
#include <thread>

#include "sim/bench/cell_readout.hpp"
#include "sim/bench/machine.hpp"
#include "sim/main/channel_commands.hpp"
#include "sim/main/device.hpp"
#include "sim/main/lines.hpp"
#include "sim/main/local_brain.hpp"
#include "sim/main/terminal.hpp"

namespace strandproof::sim {
namespace {

using Clock = std::chrono::steady_clock;

volatile std::sig_atomic_t stopped_by_signal = 0;
void on_signal(int) {
  stopped_by_signal = 1;
}

constexpr int batch_ticks_max = 20000;  // before the lines are looked at again
constexpr double late_max_s = 1.0;      // of wall time: further behind, the pace starts afresh
constexpr auto idle_wait = std::chrono::microseconds(500);

// How many ticks are due, so that virtual time is speed times wall time.
class Pace {
 public:
  explicit Pace(double speed) : speed_{speed} {}
  [[nodiscard]] int due() {
    const double elapsed = std::chrono::duration<double>(Clock::now() - start_).count();
    const double behind = elapsed * speed_ * 1000.0 - static_cast<double>(done_);
    if (behind > late_max_s * speed_ * 1000.0) {
      start_ = Clock::now();
      done_ = 0;
      ++late_;
      return 1;
    }
    return behind < 1.0 ? 0 : behind < batch_ticks_max ? static_cast<int>(behind) : batch_ticks_max;
  }
  void done(int ticks) { done_ += ticks; }
  [[nodiscard]] unsigned late() const { return late_; }

 private:
  double speed_;
  Clock::time_point start_ = Clock::now();
  long long done_ = 0;
  unsigned late_ = 0;
};

class Server {
 public:
  Server(const Scenario& s, const ServeOptions& o)
      : board_{o.rig ? rig_plant(s) : bed_plant(s), board_of(s, o.rig), s.faults},
        brain_{device_of(s), o.flash_file},
        bench_{board_, brain_},
        commands_{bench_, brain_},
        channel_{operator_path(o)},
        terminal_{o.quiet},
        pace_{o.speed},
        readout_{s.sensors.cell_span} {
    if (!o.link.empty()) {
      lines_.push_back(open_pseudo_terminal(o.link));
    }
    if (o.tcp_port != 0) {
      lines_.push_back(open_tcp(o.tcp_port));
    }
    if (o.rig && !o.cell_link.empty()) {
      cell_line_ = open_pseudo_terminal(o.cell_link);
      bench_.watch(readout_);
    }
  }

  void announce(const ServeOptions& o) const {
    for (const auto& line : lines_) {
      std::printf("SIMULATED jack at %s\n", line->name().c_str());
    }
    if (cell_line_ != nullptr) {
      std::printf("SIMULATED reference cell at %s\n", cell_line_->name().c_str());
    }
    std::printf("operator channel at %s, %g times real time\n", operator_path(o).c_str(), o.speed);
    std::fflush(stdout);
  }

  void run() {
    auto shown = Clock::now();
    while (stopped_by_signal == 0 && !commands_.quit()) {
      const int due = pace_.due();
      if (due == 0) {
        std::this_thread::sleep_for(idle_wait);
      }
      batch(due);
      if (terminal_.keys(bench_)) {
        return;
      }
      if (Clock::now() - shown > std::chrono::milliseconds(100)) {
        terminal_.show(bench_, brain_);
        shown = Clock::now();
      }
    }
  }
  [[nodiscard]] unsigned late() const { return pace_.late(); }

 private:
  // The link is served at least every few virtual milliseconds: a host that waits for an answer must not
  // wait for a whole batch.
  void batch(int due) {
    int left = due;
    do {
      carry_in();
      const int now = left < ticks_between_io ? left : ticks_between_io;
      for (int i = 0; i < now; ++i) {
        bench_.step();
        carry_out();
        print_cell();
      }
      pace_.done(now);
      left -= now;
      operator_lines();
    } while (left > 0 && stopped_by_signal == 0 && !commands_.quit());
  }

  void carry_in() {
    for (const auto& line : lines_) {
      if (const std::vector<std::uint8_t> bytes = line->read(); !bytes.empty()) {
        brain_.link_write(bytes);
      }
    }
  }
  void carry_out() {
    if (const std::vector<std::uint8_t> bytes = brain_.link_read(); !bytes.empty()) {
      for (const auto& line : lines_) {
        line->write(bytes);
      }
    }
  }
  void print_cell() {
    if (const std::string text = readout_.take(); !text.empty() && cell_line_ != nullptr) {
      cell_line_->write({reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
    }
  }
  void operator_lines() {
    if (const auto answer = commands_.finished()) {
      channel_.answer(*answer);
    }
    if (const auto line = channel_.line()) {
      if (const auto answer = commands_.take(*line)) {
        channel_.answer(*answer);
      }
    }
  }

  static constexpr int ticks_between_io = 50;
  SimBoard board_;
  LocalBrain brain_;
  Bench bench_;
  ChannelCommands commands_;
  CommandSocket channel_;
  Terminal terminal_;
  Pace pace_;
  std::vector<std::unique_ptr<SerialLine>> lines_;
  CellReadout readout_;
  std::unique_ptr<SerialLine> cell_line_;
};

}  // namespace

std::string operator_path(const ServeOptions& options) {
  if (!options.operator_path.empty()) {
    return options.operator_path;
  }
  return (options.link.empty() ? "/tmp/strandproof-jack" : options.link) + ".operator";
}

int serve(const Scenario& scenario, const ServeOptions& options) {
  if (options.link.empty() && options.tcp_port == 0) {
    throw std::runtime_error("serve: no line for the host; give --link or --tcp");
  }
  std::signal(SIGINT, on_signal);
  std::signal(SIGTERM, on_signal);
  Server server(scenario, options);
  server.announce(options);
  server.run();
  if (server.late() != 0) {
    std::printf("fell behind the wall clock %u times; use a lower --speed\n", server.late());
  }
  return 0;
}

}  // namespace strandproof::sim
