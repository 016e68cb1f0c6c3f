// The same ten strands pulled by the firmware on the desktop and by its image on the emulated Cortex-M4F:
// every answer, every byte of the link, the trace's hash and the flash with its records must be the same.
// Each run is a closed loop of its own: plant, operator and host know nothing of the other one.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "sim/bench/machine.hpp"
#include "sim/bench/names.hpp"
#include "sim/bench/trace.hpp"
#include "sim/board/target_brain.hpp"
#include "sim/main/device.hpp"
#include "sim/main/host_session.hpp"
#include "sim/main/local_brain.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

// Everything that came out of a brain, in order.
class Recorder final : public Brain {
 public:
  explicit Recorder(Brain& brain) : brain_{brain} {}

  Answer tick(const port::RawSample& sample) override { return answers.emplace_back(brain_.tick(sample)); }
  void link_write(std::span<const std::uint8_t> bytes) override { brain_.link_write(bytes); }
  std::vector<std::uint8_t> link_read() override {
    const auto bytes = brain_.link_read();
    link.insert(link.end(), bytes.begin(), bytes.end());
    return bytes;
  }
  std::vector<std::uint8_t> flash_image() override { return brain_.flash_image(); }

  std::vector<Answer> answers;
  std::vector<std::uint8_t> link;

 private:
  Brain& brain_;
};

struct Outcome {
  std::string failure;      // of provisioning
  std::string left_undone;  // by the person at the pendant
  std::vector<Answer> answers;
  std::vector<std::uint8_t> link, flash;
  std::uint64_t trace_hash = 0;
  std::size_t records = 0;
  bool pull_recorded = false;
};

// One strand from pairing to the reading of its records.
Outcome pull(const Scenario& scenario, const PlainTable& table, Brain& brain) {
  Outcome run;
  Recorder recorder(brain);
  SimBoard board(bed_plant(scenario), board_of(scenario, false), scenario.faults);
  Bench bench(board, recorder);
  HostSession host(bench, scenario);
  Trace trace;
  bench.watch(trace);
  run.failure = host.provision(table, plan_pull(scenario));
  for (const std::string& line : scenario.operator_lines) {
    bench.person().command(line);
  }
  while (run.failure.empty() && !bench.person().idle() && board.time_s() < scenario.time_limit) {
    host.step();
  }
  run.left_undone = bench.person().failure();
  const auto status = run.left_undone.empty() ? std::nullopt : host.status();
  if (const std::uint32_t refusal = status ? status->refusal() : 0; refusal != 0) {
    run.left_undone += ": " + std::string(refusal_text(refusal).why);
  }
  run.pull_recorded = host.last_pull().has_value();
  run.records = host.log().size();
  run.trace_hash = trace.hash();
  run.flash = brain.flash_image();
  run.answers = std::move(recorder.answers);
  run.link = std::move(recorder.link);
  return run;
}

struct OneStrand {
  std::uint64_t seed;
  const char* fault = "";  // of the fault table
  fault::Trigger when{};
  std::uint8_t cause = 0;  // that the pull must have shown; 0: none, and it must have ended
  double stroke_usable = 0.5;
};

std::string name_of(const OneStrand& strand) {
  std::string name = "Seed" + std::to_string(strand.seed) + strand.fault;
  std::erase(name, '-');
  return name;
}
void PrintTo(const OneStrand& strand, std::ostream* to) {
  *to << name_of(strand);
}

Scenario scenario_of(const OneStrand& strand) {
  Scenario s;
  s.seed = strand.seed;
  s.time_limit = 300.0;
  s.jack.stroke_usable = strand.stroke_usable;

  if (strand.cause != 0) {
    s.faults.push_back({fault::find(strand.fault), strand.when});
  }
  return s;
}

// The rig runs once, on the desktop: what is compared is the pull, and both pulls get the same table.
const PlainTable& table() {
  static const PlainTable made = table_from_rig(Scenario{});
  return made;
}

Outcome on_target(const Scenario& scenario, const char* image, BoardReport& report) {
  EmulatorOptions options;
  options.image = std::filesystem::path{STRANDPROOF_ARM_BUILD} / image;
  TargetBrain brain{options, device_of(scenario, port::Origin::emulated)};
  Outcome run = pull(scenario, table(), brain);
  report = brain.shut_down();
  return run;
}

Outcome on_desktop(const Scenario& scenario) {
  LocalBrain brain{device_of(scenario, port::Origin::emulated)};  // the origin stands in each record
  return pull(scenario, table(), brain);
}

// First tick at which the answers differ, or -1.
std::int64_t first_difference(const Outcome& a, const Outcome& b) {
  const auto [at, other] =
      std::mismatch(a.answers.begin(), a.answers.end(), b.answers.begin(), b.answers.end());
  return at == a.answers.end() && other == b.answers.end() ? -1 : at - a.answers.begin();
}

class TwinPull : public testing::TestWithParam<OneStrand> {};

TEST_P(TwinPull, isTheSameOnBothMachines) {
  const Scenario scenario = scenario_of(GetParam());
  const Outcome desktop = on_desktop(scenario);
  ASSERT_EQ(desktop.failure, "");
  BoardReport report;
  const Outcome target = on_target(scenario, "firmware/boards/mps2_an386/strandproof_firmware.elf", report);

  EXPECT_EQ(first_difference(desktop, target), -1) << "ticks since the start of the run";
  EXPECT_EQ(target.failure, desktop.failure);
  EXPECT_EQ(target.left_undone, desktop.left_undone);
  EXPECT_EQ(target.link == desktop.link, true) << "the bytes of the link differ";
  EXPECT_EQ(target.trace_hash, desktop.trace_hash);
  EXPECT_EQ(target.flash == desktop.flash, true) << "the flash images differ";
  EXPECT_EQ(target.records, desktop.records);

  // What was compared was a pull: it got where it should, and it left records.
  const auto shows = [&](auto member, std::uint8_t number) {
    return std::any_of(target.answers.begin(), target.answers.end(),
                       [&](const Answer& a) { return a.*member == number; });
  };
  EXPECT_TRUE(shows(&Answer::state, state::main_pull)) << desktop.left_undone;
  EXPECT_EQ(shows(&Answer::state, state::ended), GetParam().cause == 0);
  EXPECT_EQ(shows(&Answer::state, state::take_up), GetParam().stroke_usable < 0.5);
  EXPECT_TRUE(GetParam().cause == 0 || shows(&Answer::cause, GetParam().cause));
  EXPECT_GT(target.records, 3U);
  EXPECT_EQ(report.stack_size, 32U * 1024U);
  EXPECT_LT(report.stack_used, report.stack_size / 2);
  RecordProperty("ticks", static_cast<int>(target.answers.size()));
  RecordProperty("stack_used_bytes", static_cast<int>(report.stack_used));
}

constexpr double kilonewton = 1e3;

INSTANTIATE_TEST_SUITE_P(
    TenStrands, TwinPull,
    testing::Values(
        OneStrand{1}, OneStrand{2}, OneStrand{3}, OneStrand{4}, OneStrand{5}, OneStrand{6}, OneStrand{7},
        OneStrand{8},
        OneStrand{9, "strand-break", {fault::By::force, 78.0 * kilonewton}, cause::h14_strand_break},
        OneStrand{10, "emergency-stop", {fault::By::force, 60.0 * kilonewton}, cause::emergency_stop},
        OneStrand{.seed = 11, .stroke_usable = 0.35}),  // in two strokes
    [](const auto& about) { return name_of(about.param); });

// Ticks are budgeted in instructions, which the emulator counts exactly: 1 ms holds 25000 counts, and at
// -icount shift=4 a count is 2.5 instructions, so this is a processor of 62.5 million instructions a second.
// An instruction is not a cycle: a margin of four is kept for flash waits and the like (an estimate of ours).
// At rest no margin is asked for: checking a table's signature takes 23 ms, and nothing can move meanwhile.
// The stack that painting has seen must not pass what worst_stack.py computes from the image, or that script
// has missed a call.
class BoardBudget : public testing::TestWithParam<OneStrand> {};
TEST_P(BoardBudget, ticksAndStackOfAWholePullKeepIt) {
  const Scenario scenario = scenario_of(GetParam());
  EmulatorOptions options;
  options.image =
      std::filesystem::path{STRANDPROOF_ARM_BUILD} / "firmware/boards/mps2_an386/strandproof_firmware.elf";
  options.count_instructions = true;
  TargetBrain brain{options, device_of(scenario, port::Origin::emulated)};
  const Outcome run = pull(scenario, table(), brain);
  ASSERT_EQ(run.failure, "");
  const BoardReport report = brain.shut_down();
  RecordProperty("longest_moving_counts", static_cast<int>(report.longest_tick_moving));
  RecordProperty("longest_at_rest_counts", static_cast<int>(report.longest_tick_at_rest));
  EXPECT_GT(report.longest_tick_moving, 0U);
  EXPECT_LT(report.longest_tick_moving, 25000U / 4U);

  const std::string scripts = STRANDPROOF_TESTS_DIR "/target/";
  const std::string command = "/usr/bin/python3 " + scripts + "worst_stack.py " + options.image.string() +
                              " " + scripts + "stack_calls.txt --above " + std::to_string(report.stack_used);
  EXPECT_EQ(std::system(command.c_str()), 0) << command;
}
INSTANTIATE_TEST_SUITE_P(OneStrokeAndTwo, BoardBudget,
                         testing::Values(OneStrand{1}, OneStrand{.seed = 11, .stroke_usable = 0.35}),
                         [](const auto& about) { return name_of(about.param); });

}  // namespace
}  // namespace strandproof::sim
