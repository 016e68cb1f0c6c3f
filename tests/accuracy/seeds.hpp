// The work of many seeds, spread over threads.
#pragma once

#include <cstdint>
#include <thread>
#include <vector>

namespace strandproof::sim {

// one(seed) for each of `count` seeds from `first` on. Each worker takes every n-th seed; results lie at
// their seed's place, so nothing depends on the order. one must not throw.
template <class One>
auto by_seeds(std::uint64_t first, std::size_t count, unsigned threads, One one) {
  std::vector<decltype(one(first))> all(count);
  std::vector<std::thread> workers;
  for (unsigned w = 0; w < threads; ++w) {
    workers.emplace_back([&, w] {
      for (std::size_t i = w; i < count; i += threads) {
        all[i] = one(first + i);
      }
    });
  }
  for (std::thread& worker : workers) {
    worker.join();
  }
  return all;
}

// The arguments that the studies share.
struct SeedArguments {
  std::size_t seeds = 1000;
  std::uint64_t first = 1;
  unsigned threads = 2;
  bool worst = false;
};

// Reads --seeds N --first SEED --threads N --worst; false, after one line on the error stream, if they are
// wrong.
bool read_arguments(int argc, char** argv, SeedArguments& into);

}  // namespace strandproof::sim
