#include "sim/fault/fault.hpp"

#include <gtest/gtest.h>

#include <set>

#include "sim/fault/nearest.hpp"

namespace strandproof::sim::fault {
namespace {

TEST(FaultTable, OneNameEachAndEachFound) {
  std::set<std::string_view> seen;
  for (const Row& row : table) {
    EXPECT_TRUE(seen.insert(row.name).second) << row.name;
    EXPECT_EQ(find(row.name), &row);
    EXPECT_FALSE(row.what.empty());
  }
  EXPECT_EQ(find("strand-brake"), nullptr);
  EXPECT_EQ(nearest("strand-brake", names()), "strand-break");
}

TEST(FaultWatch, BeginsAtItsTimeForceOrStroke) {
  const Row* stop = find("emergency-stop");
  const Row* broken = find("strand-break");
  const Row* stuck = find("stroke-stuck");
  Watch watch({{stop, {By::time, 2.0}, 1.0}, {broken, {By::force, 78e3}}, {stuck, {By::stroke, 0.1}}});
  watch.update(1.999, 77999.0, 0.0999);
  EXPECT_FALSE(watch.on(Place::emergency_stop_both, Effect::opens));
  EXPECT_FALSE(watch.on(Place::strand, Effect::breaks));
  EXPECT_FALSE(watch.on(Place::stroke, Effect::stuck));
  EXPECT_LT(watch.began(0), 0.0);
  watch.update(2.0, 78000.0, 0.1);
  EXPECT_TRUE(watch.on(Place::emergency_stop_both, Effect::opens));
  EXPECT_TRUE(watch.on(Place::strand, Effect::breaks));
  EXPECT_TRUE(watch.on(Place::stroke, Effect::stuck));
  watch.update(3.0, 0.0, 0.1);
  EXPECT_FALSE(watch.on(Place::emergency_stop_both, Effect::opens)) << "its time is over";
  EXPECT_TRUE(watch.on(Place::strand, Effect::breaks)) << "a break does not heal";
  EXPECT_DOUBLE_EQ(watch.began(0), 2.0) << "it stays counted as begun";
}

TEST(FaultWatch, BeginsWhenTheControllerShowsAState) {
  constexpr std::uint8_t wanted = 6;
  Watch watch({{find("grip-slip"), {By::state, wanted}}});
  watch.shown(wanted - 1);
  watch.update(1.0, 0.0, 0.0);
  EXPECT_FALSE(watch.on(Place::grip, Effect::slips));
  watch.shown(wanted);
  watch.update(1.001, 0.0, 0.0);
  EXPECT_TRUE(watch.on(Place::grip, Effect::slips));
  watch.shown(wanted + 1);
  watch.update(1.002, 0.0, 0.0);
  EXPECT_TRUE(watch.on(Place::grip, Effect::slips)) << "it stays on";
  EXPECT_DOUBLE_EQ(watch.began(0), 1.001);
}

TEST(FaultWatch, APersonMayEndAFault) {
  const Row* stop = find("emergency-stop");
  Watch watch({{stop, {By::time, 1.0}}});
  watch.update(1.0, 0.0, 0.0);
  watch.end(*stop, 4.0);
  watch.update(4.0, 0.0, 0.0);
  EXPECT_FALSE(watch.on(Place::emergency_stop_both, Effect::opens));
  EXPECT_DOUBLE_EQ(watch.faults()[0].lasts, 3.0);
}

}  // namespace
}  // namespace strandproof::sim::fault
