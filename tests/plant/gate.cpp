#include "tests/plant/gate.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cstdio>
#include <thread>

#include "sim/plant/delays.hpp"
#include "tests/plant/oracle.hpp"

namespace strandproof::plant {
namespace {

// At 1e-7 CVODE itself is off by newtons over a pull of a minute: the relative error of an oil content adds
// up. At 1e-9 it stands still to hundredths and takes hardly longer.
constexpr double tolerance = 1e-9;

struct Off {
  double peak = 0.0, held = 0.0, locked = 0.0;
  bool finished = false;
};

Off one(std::uint64_t seed, std::uint64_t n) {
  Draw draw(seed + n * 0xD1342543DE82EF95ULL);
  const DrawnPull pull = drawn_pull(draw);
  const Decider ours(pull);
  const Forces a = ours.forces(), b = by_cvode(pull.plant, ours.script(), tolerance, Stops::at_events);
  const auto off = [&](double x, double y) { return magnitude(x - y) / pull.target; };
  return {off(a.peak, b.peak), off(a.held, b.held), off(a.locked, b.locked),
          a.peak > pull.target && a.locked > 0.8 * pull.target};
}

Spread spread(const std::vector<Off>& offs, double Off::*which) {
  std::vector<std::pair<double, std::uint64_t>> sorted;
  for (const Off& o : offs) {
    sorted.emplace_back(o.*which, sorted.size());
  }
  std::sort(sorted.begin(), sorted.end());
  return {sorted[sorted.size() / 2].first, sorted[sorted.size() * 99 / 100].first, sorted.back().first,
          sorted.back().second};
}

}  // namespace

Forces by_cvode(const Parameters& p, const Script& script, double within, Stops stops) {
  Oracle oracle(p, within);
  Delays delays(p.valves.delay);
  Forces f;
  const auto run = [&](const Acting& acting, int ticks) {
    stops == Stops::at_events ? oracle.run(acting, ticks * 1e-3) : oracle.run_ticks(acting, ticks);
  };
  for (const Stretch& s : script) {
    Acting acting;
    int same = 0;
    for (int i = 0; i < s.ticks; ++i, ++same) {
      delays.tick(s.drive);
      const Acting& now = delays.acting();
      if (same > 0 && now != acting) {
        run(acting, same);
        same = 0;
      }
      acting = now;
    }
    run(acting, same);
    note(f, s.mark, oracle.load().strand.F_strand);
  }
  f.peak = oracle.peak();
  return f;
}

GateResult run_gate(std::uint64_t seed, unsigned pulls, unsigned threads) {
  std::vector<Off> offs(pulls);
  std::atomic<unsigned> next = 0;
  {
    std::vector<std::jthread> workers;
    for (unsigned t = 0; t < threads; ++t) {
      workers.emplace_back([&] {
        for (unsigned n = next++; n < pulls; n = next++) {
          offs[n] = one(seed, n);
        }
      });
    }
  }
  GateResult r{spread(offs, &Off::peak), spread(offs, &Off::held), spread(offs, &Off::locked), {}};
  for (unsigned n = 0; n < pulls; ++n) {
    if (!offs[n].finished) {
      r.unfinished.push_back(n);
    }
  }
  return r;
}

std::string text_of(const GateResult& r) {
  std::string text;
  const auto add = [&](const char* name, const Spread& s) {
    std::array<char, 160> line{};
    std::snprintf(line.data(), line.size(),
                  "%-6s  median %.6f %%  99 %% %.6f %%  worst %.6f %% in pull %llu\n", name, 100.0 * s.median,
                  100.0 * s.p99, 100.0 * s.worst, static_cast<unsigned long long>(s.worst_pull));
    text += line.data();
  };
  add("peak", r.peak);
  add("held", r.held);
  add("locked", r.locked);
  return text + std::to_string(r.unfinished.size()) + " pulls without an end\n";
}

}  // namespace strandproof::plant
