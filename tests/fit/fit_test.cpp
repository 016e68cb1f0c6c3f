// A fit against jacks whose parameters are known, from traces with noise: what it says is within what it
// says.
#include "sim/fit/fit.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <mutex>
#include <thread>

#include "sim/bench/machine.hpp"
#include "sim/board/noise.hpp"
#include "sim/main/device.hpp"
#include "sim/main/local_brain.hpp"

namespace strandproof::sim {
namespace {

// Works the jack on its rig through the firmware, as a technician does for a bench trace.
Recording on_the_rig(const Scenario& s, const std::vector<std::string>& lines) {
  SimBoard board(rig_plant(s), board_of(s, true), {});
  LocalBrain brain(device_of(s));
  Bench bench(board, brain);
  Recorder recorder(s, true);
  bench.watch(recorder);
  for (const std::string& line : lines) {
    bench.person().command(line);
  }
  EXPECT_TRUE(bench.run(300.0));
  EXPECT_FALSE(bench.person().failed()) << bench.person().failure();
  return recorder.recording();
}

const std::vector<std::string> bench_trace{"rig",         "up-to 100 kN", "down-to 30 kN",
                                           "up-to 60 kN", "up-to 140 kN", "down-to 0 N"};

// A jack of a seed: each value is drawn by itself (Philox, counter-based).
Scenario jack(std::uint64_t seed) {
  const Noise noise(seed);
  std::uint32_t n = 0;
  const auto between = [&](double low, double high) {
    return low + (high - low) * noise.uniform(n++, 0xF17)[0];
  };
  Scenario s;
  s.seed = seed;
  s.rig.stiffness = between(1.5e6, 3.0e6);
  s.oil.air = between(0.001, 0.03);
  s.jack.friction = between(0.01, 0.05);
  s.pump.fast_flow *= between(0.8, 1.2);
  s.pump.slow_flow *= between(0.8, 1.2);
  s.valves.delay = std::round(between(5.0, 40.0)) * 1e-3;
  return s;
}

const Estimate& of(const Fit& fit, const char* name) {
  return *std::find_if(fit.estimates.begin(), fit.estimates.end(),
                       [&](const Estimate& e) { return e.key->name == name; });
}

constexpr std::uint64_t jacks = 100;

struct Deviation {
  double relative = 0.0, in_sd = 0.0;
};

// All jacks on two threads; of each key: how far off, in jack order.
struct Hundred {
  std::map<std::string, std::vector<Deviation>> off;
  int not_told = 0, not_explained = 0;

  Hundred() {
    std::vector<Fit> fits(jacks);
    std::vector<std::jthread> threads;
    for (std::uint64_t t = 0; t < 2; ++t) {
      threads.emplace_back([&fits, t] {
        for (std::uint64_t seed = t; seed < jacks; seed += 2) {
          fits[seed] = fit_jack(on_the_rig(jack(seed), bench_trace), Scenario{}, true);
        }
      });
    }
    threads.clear();
    for (std::uint64_t seed = 0; seed < jacks; ++seed) {
      Scenario truth = jack(seed);
      not_explained += fits[seed].explained() ? 0 : 1;
      for (const Estimate& e : fits[seed].estimates) {
        const double apart = e.value - e.key->value(truth);
        off[std::string(e.key->name)].push_back({apart / e.key->value(truth), apart / e.sd});
        not_told += e.told ? 0 : 1;
      }
    }
  }
};

// Stated bounds of the values themselves, relative; the delay is found to the millisecond.
const std::map<std::string, double> stated{{"rig.stiffness", 1e-4},  {"oil.air", 1e-2},
                                           {"jack.friction", 1e-2},  {"pump.fast_flow", 2e-4},
                                           {"pump.slow_flow", 3e-3}, {"valves.delay", 1e-9}};

TEST(FitJack, OfAHundredJacksEachValueIsWithinWhatIsSaid) {
  const Hundred all;
  EXPECT_EQ(all.not_told, 0);
  EXPECT_EQ(all.not_explained, 0);
  ASSERT_EQ(all.off.size(), stated.size());
  for (const auto& [name, off] : all.off) {
    std::vector<double> sizes;
    int within = 0;
    double worst = 0.0;
    for (const Deviation& d : off) {
      sizes.push_back(std::abs(d.relative));
      within += std::abs(d.in_sd) <= 2.0 ? 1 : 0;
      worst = std::max(worst, std::abs(d.in_sd));
    }
    std::sort(sizes.begin(), sizes.end());
    std::printf("%-18s off by: median %.2e, most %.2e; within 2 sd %d, worst %.1f sd\n", name.c_str(),
                sizes[sizes.size() / 2], sizes.back(), within, worst);
    EXPECT_LE(sizes.back(), stated.at(name)) << name;
    EXPECT_GE(within, 90) << name
                          << ": of a normal deviation 95.4 of 100 lie within 2 sd; 90 or less once in 50";
    EXPECT_LT(worst, 4.5) << name;
  }
}

// What was energised acts in the millisecond in which it was: elsewhere nothing fits.
TEST(FitJack, ASoundTraceIsExplainedAndItsDelayFound) {
  const Scenario s = jack(3);
  const Fit fit = fit_jack(on_the_rig(s, bench_trace), Scenario{}, true);
  EXPECT_TRUE(fit.explained());
  EXPECT_NEAR(of(fit, "valves.delay").value, s.valves.delay, 1e-9);
  for (const Estimate& e : fit.estimates) {
    EXPECT_TRUE(e.told) << e.key->name << ": " << e.why;
  }
}

// Pulled up on the slow stage alone, the fast one is not seen.
TEST(FitJack, WhatTheTraceDoesNotMoveCanNotBeTold) {
  const Scenario s = jack(3);
  const Fit fit = fit_jack(
      on_the_rig(s, {"rig", "hold enable advance", "wait 25 s", "release all", "down-to 0 N"}), s, true);
  EXPECT_FALSE(of(fit, "pump.fast_flow").told);
  EXPECT_EQ(of(fit, "pump.fast_flow").why, "nothing in the trace follows it");
  EXPECT_TRUE(of(fit, "pump.slow_flow").told);
  EXPECT_TRUE(of(fit, "rig.stiffness").told);
  EXPECT_TRUE(fit.explained());
}

TEST(FitJack, OfAJackAtRestNothingCanBeTold) {
  const Fit fit = fit_jack(on_the_rig(jack(3), {"wait 5 s"}), Scenario{}, true);
  for (const Estimate& e : fit.estimates) {
    EXPECT_FALSE(e.told) << e.key->name;
    EXPECT_FALSE(e.why.empty());
  }
}

// Without the reference cell force is pressure times area less friction, and the spring's stiffness is what
// makes force of stroke: one can stand for the other.
TEST(FitJack, TwoThatDoTheSameNameEachOther) {
  Recording r = on_the_rig(jack(3), {"rig", "up-to 40 kN"});
  r.read[Recording::cell].clear();
  const Fit fit = fit_jack(r, jack(3), true);
  const Estimate& friction = of(fit, "jack.friction");
  EXPECT_FALSE(friction.told) << friction.sd / friction.value;
  EXPECT_NE(friction.why.find("it can not be told apart from rig.stiffness"), std::string::npos)
      << friction.why;
  EXPECT_TRUE(of(fit, "pump.fast_flow").told);
}

// A jack that leaks is not in the model that is fitted: the fit says that it does not explain the trace.
TEST(FitJack, WhatThePlantDoesNotExplainIsSaid) {
  Scenario leaks = jack(3);
  leaks.oil.leak = 2e-6;
  EXPECT_FALSE(fit_jack(on_the_rig(leaks, bench_trace), Scenario{}, true).explained());
}

}  // namespace
}  // namespace strandproof::sim
