// Every float that the controller shows, in every tick of a pull: the same bits on the desktop and on the
// Cortex-M4F. The samples are those of a whole simulated pull; both controllers are shown the same ones.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstring>
#include <filesystem>
#include <vector>

#include "sim/bench/machine.hpp"
#include "sim/bench/names.hpp"
#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"
#include "sim/board/target_brain.hpp"
#include "sim/main/control_brain.hpp"
#include "sim/main/device.hpp"
#include "sim/main/pull.hpp"
#include "tests/target/control_probe.hpp"

namespace strandproof::sim {
namespace {

class SampleTaker final : public Observer {
 public:
  void tick(const Moment& m) override { samples.push_back(m.sample); }
  std::vector<port::RawSample> samples;
};

// What both probes are shown: the samples of one healthy pull, from the pendant's first key to the end,
// and the table and instruction that it was pulled by.
struct Replay {
  probe::ControlSetting setting;
  std::vector<port::RawSample> samples;
};

probe::ControlSetting::Points points(const Column& column) {
  probe::ControlSetting::Points p;
  EXPECT_EQ(column.force_n.size(), p.force_n.size());
  std::copy_n(column.pressure_mbar.begin(), p.pressure_mbar.size(), p.pressure_mbar.begin());
  std::copy_n(column.force_n.begin(), p.force_n.size(), p.force_n.begin());
  return p;
}

Replay make_replay() {
  const Scenario scenario;
  const PlainTable table = table_from_rig(scenario);
  SampleTaker taker;
  SimBoard board(bed_plant(scenario), board_of(scenario, false), {});
  ControlBrain brain(scenario);
  Bench bench(board, brain);
  bench.watch(taker);
  EXPECT_EQ(brain.install(table), 0);
  EXPECT_EQ(brain.load(plan_pull(scenario)), 0);
  const control::PullInstruction instruction = brain.controller().instruction();
  bench.person().command("pull");
  EXPECT_TRUE(bench.run(scenario.time_limit)) << bench.person().failure();
  return {{points(table.a_increasing), points(table.a_decreasing), points(table.b_increasing),
           points(table.b_decreasing), instruction},
          taker.samples};
}

const Replay& replay() {
  static const Replay made = make_replay();
  return made;
}

std::vector<std::uint8_t> setting_bytes() {
  std::vector<std::uint8_t> bytes(sizeof(probe::ControlSetting));
  std::memcpy(bytes.data(), &replay().setting, bytes.size());
  return bytes;
}

std::vector<Answer> on_desktop() {
  const port::Device device = device_of(Scenario{});
  SimFlash flash;
  SimSerial serial;
  probe::ControlProbe probe{device, flash, serial};
  probe.start();
  serial.push(setting_bytes());
  std::vector<Answer> answers;
  for (const port::RawSample& s : replay().samples) {
    const probe::ControlAnswer a = probe.tick(s);
    answers.push_back({a.outputs, a.state, a.cause, a.load_state});
  }
  return answers;
}

std::vector<Answer> on_target(const char* image) {
  EmulatorOptions options;
  options.image = std::filesystem::path{STRANDPROOF_ARM_BUILD} / "tests/target/images" / image;
  TargetBrain brain{options, device_of(Scenario{})};
  brain.link_write(setting_bytes());
  std::vector<Answer> answers;
  for (const port::RawSample& s : replay().samples) {
    answers.push_back(brain.tick(s));
  }
  return answers;
}

std::int64_t first_difference(const std::vector<Answer>& a, const std::vector<Answer>& b) {
  const auto at = std::mismatch(a.begin(), a.end(), b.begin(), b.end()).first;
  return at == a.end() && a.size() == b.size() ? -1 : at - a.begin();
}

TEST(ControlBits, everyFloatOfAPullIsTheSame) {
  const std::vector<Answer> desktop = on_desktop();
  for (const std::uint8_t state :
       {state::main_pull, state::slow_pull, state::settle, state::seat, state::ended}) {
    EXPECT_TRUE(
        std::any_of(desktop.begin(), desktop.end(), [&](const Answer& a) { return a.state == state; }))
        << "the replayed pull never reached state " << state_name(state);
  }
  EXPECT_GT(desktop.size(), 60'000U);
  EXPECT_EQ(first_difference(desktop, on_target("control_probe.elf")), -1) << "ticks since the start";
}

// The comparison seen failing: control compiled with fused multiply-add.
TEST(ControlBits, fusedMultiplyAddIsFound) {
  const std::int64_t at = first_difference(on_desktop(), on_target("control_probe_fused.elf"));
  EXPECT_GE(at, 0);
  RecordProperty("first_difference_tick", static_cast<int>(at));
}

}  // namespace
}  // namespace strandproof::sim
