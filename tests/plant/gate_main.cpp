// plant_gate SEED PULLS: the accuracy gate over any number of pulls, on every core.
#include <cstdio>
#include <cstdlib>
#include <string>
#include <thread>

#include "tests/plant/gate.hpp"

int main(int argc, char** argv) {
  if (argc != 3 || std::atoi(argv[2]) < 1) {
    std::fputs("plant_gate SEED PULLS, for example plant_gate 1 10000\n", stderr);
    return 2;
  }
  const unsigned threads = std::thread::hardware_concurrency();
  const auto pulls = static_cast<unsigned>(std::atoi(argv[2]));
  const auto r = strandproof::plant::run_gate(std::strtoull(argv[1], nullptr, 10), pulls, threads);
  std::printf("seed %s, %u pulls against CVODE at 1e-9\n%s", argv[1], pulls,
              strandproof::plant::text_of(r).c_str());
  return r.unfinished.empty() ? 0 : 1;
}
