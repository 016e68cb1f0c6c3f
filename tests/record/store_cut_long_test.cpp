// The same with a second cut in the recovery, over every workload. Their number is part of the promise.
#include "tests/record/cut_lab.hpp"

namespace strandproof::test {
namespace {

using Case = std::tuple<Workload, Geometry>;
class StoreSecondCut : public testing::TestWithParam<Case> {};
INSTANTIATE_TEST_SUITE_P(All, StoreSecondCut,
                         testing::Combine(testing::ValuesIn(all_workloads), testing::ValuesIn(geometries)),
                         [](const auto& it) {
                           return std::get<0>(it.param).name + std::string{"_"} +
                                  std::get<1>(it.param).name();
                         });

TEST_P(StoreSecondCut, LosesNoAcknowledgedRecord) {
  const auto& [workload, geometry] = GetParam();
  CutLab lab{geometry, workload};
  lab.run({.step = 12});
  lab.print();
  const CutLab::Totals& t = lab.totals();
  EXPECT_EQ(t.wrong, 0U);
  EXPECT_EQ(t.cuts, t.operations * lab.damages());
  EXPECT_GE(t.cuts + t.second_cuts, 23'000U) << "nine of these are the 200,000 that README.md promises";
  EXPECT_GT(t.images.size(), t.second_cuts / 2) << "cuts that leave the same image prove little";
  // The bound of a recovery (README.md): three marks; no erase; the region less than twice over.
  EXPECT_LE(t.mount_programs, 3 * record::mark_size / geometry.word_size);
  EXPECT_LT(t.mount_reads, 2 * geometry.region().size);
}

}  // namespace
}  // namespace strandproof::test
