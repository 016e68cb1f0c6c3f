// Power cuts of the log at every word programmed and every page erased of a workload, each with every damage,
// followed by a recovery that must work and go on.
#include "tests/record/cut_lab.hpp"

namespace strandproof::test {
namespace {

class StorePowerCut : public testing::TestWithParam<Geometry> {};
INSTANTIATE_TEST_SUITE_P(Geometries, StorePowerCut, testing::ValuesIn(geometries),
                         [](const auto& it) { return it.param.name(); });

TEST_P(StorePowerCut, LosesNoAcknowledgedRecord) {  // H28
  CutLab lab{GetParam(), all_workloads[0]};
  lab.run({});
  lab.print();
  EXPECT_EQ(lab.totals().wrong, 0U);
  EXPECT_EQ(lab.totals().cuts, lab.totals().operations * lab.damages());
  EXPECT_GT(lab.totals().images.size(), lab.totals().operations)
      << "cuts that leave the same image prove little";
}

}  // namespace
}  // namespace strandproof::test
