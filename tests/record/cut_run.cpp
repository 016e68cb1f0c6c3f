// The long proof of the log, by its own command: the workloads of record_cut_long_test over and over, each
// round with other random bits and other places of the second cut, until as many cuts are made as were asked
// for.
//   record_cut_run [--cuts N] [--seed S]     5,000,000 and 1 without
// Exit 0: nothing lost, invented, doubled or out of order; 1: something was; 2: not understood.
#include <charconv>

#include "tests/record/cut_lab.hpp"

namespace strandproof::test {
namespace {

struct Asked {
  std::uint64_t cuts = 5'000'000, seed = 1;
};

bool understood(int argc, char** argv, Asked& asked) {
  for (int i = 1; i + 1 < argc; i += 2) {
    const std::string_view name = argv[i];
    const std::string_view value = argv[i + 1];
    std::uint64_t& into = name == "--cuts" ? asked.cuts : asked.seed;
    const auto end = value.data() + value.size();
    if ((name != "--cuts" && name != "--seed") || std::from_chars(value.data(), end, into).ptr != end ||
        value.empty()) {
      return false;
    }
  }
  return argc % 2 == 1;
}

struct Sum {
  std::uint64_t rounds = 0, cuts = 0, second_cuts = 0, wrong = 0;
  std::unordered_set<std::size_t> images;
};

void one_round(const Asked& asked, Sum& sum) {
  for (const Workload& workload : all_workloads) {
    for (const Geometry& geometry : geometries) {
      CutLab lab{geometry, workload, (asked.seed << 32U) + (sum.rounds << 24U)};
      lab.run({.step = 4, .phase = sum.rounds + asked.seed});
      const CutLab::Totals& t = lab.totals();
      sum.cuts += t.cuts;
      sum.second_cuts += t.second_cuts;
      sum.wrong += t.wrong + (t.cuts == t.operations * lab.damages() ? 0 : 1);
      sum.images.insert(t.images.begin(), t.images.end());
      lab.print();
    }
  }
  ++sum.rounds;
}

int run(const Asked& asked) {
  Sum sum;
  while (sum.cuts + sum.second_cuts < asked.cuts && sum.wrong == 0 && !testing::Test::HasFailure()) {
    one_round(asked, sum);
  }
  std::cout << "seed " << asked.seed << ": " << sum.cuts + sum.second_cuts << " cuts in " << sum.rounds
            << " rounds, " << sum.cuts << " of a workload and " << sum.second_cuts << " of a recovery, "
            << sum.images.size() << " distinct images; records lost, invented, doubled or out of order "
            << sum.wrong << "\n";
  return sum.wrong == 0 && !testing::Test::HasFailure() ? 0 : 1;
}

}  // namespace
}  // namespace strandproof::test

int main(int argc, char** argv) {
  strandproof::test::Asked asked;
  if (!strandproof::test::understood(argc, argv, asked)) {
    std::cerr << "record_cut_run: not understood; usage: record_cut_run [--cuts N] [--seed S], N and S whole "
                 "numbers\n";
    return 2;
  }
  return strandproof::test::run(asked);
}
