// A tick of the whole firmware in each state of a healthy pull: the samples and the link's bytes of a
// simulated pull, shown to a firmware that has just been switched on. "whole_steps" is such a tick over the
// time of a multiplication that waits for the one before, in the same run: the same on a slow machine.
// libs: sim_session
#include <benchmark/benchmark.h>

#include <algorithm>
#include <chrono>
#include <limits>
#include <map>
#include <string>
#include <vector>

#include "sim/bench/machine.hpp"
#include "sim/bench/names.hpp"
#include "sim/main/device.hpp"
#include "sim/main/host_session.hpp"
#include "sim/main/local_brain.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

struct Tick {
  port::RawSample sample;
  std::vector<std::uint8_t> received;  // before it
  std::uint8_t state = 0;              // after it
  bool speaks = false;                 // bytes were sent
};

// The firmware, and a note of all that it was shown.
class Taker final : public Brain {
 public:
  explicit Taker(const port::Device& device) : brain_{device} {}
  Answer tick(const port::RawSample& sample) override {
    const Answer a = brain_.tick(sample);
    ticks_.push_back({.sample = sample, .received = std::move(received_), .state = a.state});
    received_.clear();
    return a;
  }
  void link_write(std::span<const std::uint8_t> bytes) override {
    received_.insert(received_.end(), bytes.begin(), bytes.end());
    brain_.link_write(bytes);
  }
  std::vector<std::uint8_t> link_read() override {
    std::vector<std::uint8_t> bytes = brain_.link_read();
    if (!ticks_.empty()) {
      ticks_.back().speaks = !bytes.empty();
    }
    return bytes;
  }
  std::vector<std::uint8_t> flash_image() override { return brain_.flash_image(); }
  [[nodiscard]] std::array<std::string, 4> display() const override { return brain_.display(); }
  [[nodiscard]] const std::vector<Tick>& ticks() const { return ticks_; }

 private:
  LocalBrain brain_;
  std::vector<std::uint8_t> received_;
  std::vector<Tick> ticks_;
};

std::vector<Tick> healthy_pull() {
  const Scenario s;
  SimBoard board(bed_plant(s), board_of(s, false), {});
  Taker taker(device_of(s));
  Bench bench(board, taker);
  HostSession host(bench, s);
  if (!host.provision(table_from_rig(s), plan_pull(s)).empty()) {
    return {};
  }
  for (const std::string& line : s.operator_lines) {
    bench.person().command(line);
  }
  while (!bench.person().idle() && board.time_s() < s.time_limit) {
    host.step();
  }
  for (int i = 0; i < 500; ++i) {
    host.step();
  }
  return taker.ticks();
}

using Clock = std::chrono::steady_clock;

double ns_since(Clock::time_point start) {
  return std::chrono::duration<double, std::nano>(Clock::now() - start).count();
}

// Ticks of one state that are timed together: reading the clock costs as much as a tick does.
struct Stretch {
  static constexpr std::size_t longest = 500;
  std::size_t from = 0, to = 0;
  std::uint8_t state = 0;
  double best_ns = std::numeric_limits<double>::max();
};

std::vector<Stretch> stretches(const std::vector<Tick>& ticks) {
  std::vector<Stretch> all;
  for (std::size_t i = 0; i < ticks.size(); ++i) {
    if (all.empty() || all.back().state != ticks[i].state || i - all.back().from == Stretch::longest) {
      all.push_back({.from = i, .state = ticks[i].state});
    }
    all.back().to = i + 1;
  }
  return all;
}

void replay(const std::vector<Tick>& ticks, std::vector<Stretch>& stretches) {
  LocalBrain brain(device_of(Scenario{}));
  for (Stretch& s : stretches) {
    const auto start = Clock::now();
    for (std::size_t i = s.from; i < s.to; ++i) {
      if (!ticks[i].received.empty()) {
        brain.link_write(ticks[i].received);
      }
      benchmark::DoNotOptimize(brain.tick(ticks[i].sample));
      if (ticks[i].speaks) {
        benchmark::DoNotOptimize(brain.link_read());
      }
    }
    s.best_ns = std::min(s.best_ns, ns_since(start));
  }
}

// ns a step: each multiplication waits for the one before, whatever the compiler makes of it.
double reference_ns() {
  constexpr int steps = 100'000;
  std::uint64_t random = 1;
  const auto start = Clock::now();
  for (int i = 0; i < steps; ++i) {
    random = random * 6'364'136'223'846'793'005U + 1'442'695'040'888'963'407U;
    benchmark::DoNotOptimize(random);
  }
  return ns_since(start) / steps;
}

struct Spent {
  double ns = 0.0, ticks = 0.0;
  [[nodiscard]] double each() const { return ns / ticks; }
};

// Of every stretch, and of the reference, the round counts in which nobody else was on the processor.
void firmware_tick(benchmark::State& state) {
  static const std::vector<Tick> ticks = healthy_pull();
  if (ticks.empty()) {
    state.SkipWithError("the jack was not made ready for the pull");
    return;
  }
  std::vector<Stretch> timed = stretches(ticks);
  double reference = std::numeric_limits<double>::max();
  for (auto _ : state) {
    replay(ticks, timed);
    reference = std::min(reference, reference_ns());
  }
  std::map<std::string, Spent> spent;
  for (const Stretch& s : timed) {
    for (const std::string& name : {std::string(state_name(s.state)), std::string("whole")}) {
      spent[name].ns += s.best_ns;
      spent[name].ticks += static_cast<double>(s.to - s.from);
    }
  }
  for (const auto& [name, of] : spent) {
    state.counters[name + "_ns"] = of.each();
  }
  state.counters["whole_steps"] = spent["whole"].each() / reference;
}
BENCHMARK(firmware_tick)->Unit(benchmark::kMillisecond)->Iterations(30);

}  // namespace
}  // namespace strandproof::sim
