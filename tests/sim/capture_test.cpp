// A whole guided capture on the simulated rig in virtual time, over the real link: the technician does what
// he is told, the readings come from telemetry of 20 ms and the cell's own line. The table made of them must
// agree with the one of the same jack's rig_csv, which reads both in one window while the ram creeps
// (sim/bench/rig.cpp), and with the law of the jack in closed form (trade.md 5.3: 48 cm2, 3 % friction: 4.656
// kN/MPa).
#include "host-tool/capture/capture.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

#include "host-tool/base/files.hpp"
#include "host-tool/capture/run_file.hpp"
#include "host-tool/gauge/table.hpp"
#include "proto/peer/peer.hpp"
#include "sim/bench/cell_readout.hpp"
#include "sim/bench/machine.hpp"
#include "sim/bench/rig.hpp"
#include "sim/main/device.hpp"
#include "sim/main/local_brain.hpp"

namespace strandproof::sim {
namespace {

namespace capture = host::capture;
namespace gauge = host::gauge;

constexpr std::int64_t morning_s = 1'772'434'800;  // 2026-03-02T07:00:00Z

class Technician {
 public:
  Technician(const Scenario& s, const capture::Settings& settings)
      : board_(rig_plant(s), board_of(s, true), {}),
        brain_(device_of(s)),
        bench_(board_, brain_),
        readout_(s.sensors.cell_span),
        capture_(settings, {}) {
    bench_.watch(readout_);
    peer_.on_telemetry = [this](const wire::Telemetry& t) {
      capture_.jack({t.now_ms(),
                     t.state(),
                     t.cause(),
                     t.outputs(),
                     {static_cast<double>(t.pressure_a_mbar()), static_cast<double>(t.pressure_b_mbar())},
                     static_cast<double>(t.stroke_um()),
                     t.oil_tenths_degc() / 10.0});
    };
    peer_.set_telemetry(20);
  }

  // Does as told until all readings are there, or for an hour of virtual time.
  void work() {
    while (!capture_.done() && board_.time_s() < 3'600.0) {
      obey();
      while (!bench_.person().idle()) step();
      for (int i = 0; i < 100; ++i) step();
      for (auto& event : capture_.take()) {
        if (event.reading) readings.push_back(*event.reading);
        if (event.what == capture::Event::What::rejected) rejected.push_back(event.text);
      }
    }
  }
  [[nodiscard]] const std::string& told() const { return capture_.instruction().text; }
  [[nodiscard]] bool done() const { return capture_.done(); }

  std::vector<capture::Reading> readings;
  std::vector<std::string> rejected;

 private:
  void obey() {
    const auto& now = capture_.instruction();
    const std::string force = " " + std::to_string(now.to_n) + " N";
    if (now.text.find("choose RIG") != std::string::npos) {
      bench_.person().command("rig");
    } else if (now.move == capture::Motion::up) {
      bench_.person().command("up-to" + force);
      bench_.person().command("wait 2500 ms");
    } else if (now.move == capture::Motion::down) {
      bench_.person().command("down-to" + force);
      bench_.person().command("wait 2500 ms");
    }
  }
  void step() {
    bench_.step();
    const auto now = board_.ticks();
    if (const auto bytes = brain_.link_read(); !bytes.empty()) peer_.feed(bytes, now);
    peer_.poll(now);
    if (const auto bytes = peer_.take(); !bytes.empty()) brain_.link_write(bytes);
    for (const double force_n : text_.feed(readout_.take())) capture_.cell(force_n);
  }

  SimBoard board_;
  LocalBrain brain_;
  Bench bench_;
  CellReadout readout_;
  capture::CellText text_;
  proto::Peer peer_{proto::HostKeys{}};
  capture::Capture capture_;
};

Scenario three_series() {
  Scenario s;
  s.rig.points = 8;
  return s;
}

gauge::Runs captured_runs(const Technician& t, const Scenario& s) {
  const std::string path = testing::TempDir() + "sim_capture_runs.csv";
  std::filesystem::remove(path);
  const gauge::ReferenceCell cell{"R-17", 5, 1'000.0, 200'000.0, morning_s + 86'400, std::nullopt};
  {
    capture::RunFile file(path, {static_cast<std::uint32_t>(s.jack.serial),
                                 {static_cast<std::uint32_t>(s.sensors.sensor_a_serial),
                                  static_cast<std::uint32_t>(s.sensors.sensor_b_serial)},
                                 gauge::Origin::simulated,
                                 cell,
                                 std::nullopt});
    for (std::size_t i = 0; i < t.readings.size(); ++i) {
      file.append(t.readings[i], morning_s + 30 * static_cast<std::int64_t>(i));
    }
  }
  const auto runs = gauge::read_runs(host::read_file(path), path);
  std::filesystem::remove(path);
  return runs;
}

double percent_apart(const gauge::Column& a, const gauge::Column& b, double pressure_mbar) {
  const double force = b.chosen().at(pressure_mbar);
  return 100.0 * std::abs(a.chosen().at(pressure_mbar) / force - 1.0);
}

TEST(SimulatedCapture, ItsTableAgreesWithTheRigsOwnWithinTheirUncertainty) {
  const Scenario s = three_series();
  capture::Settings settings;
  settings.typed = false;
  for (int f = 15'000; f <= 150'000; f += 15'000) settings.set_points_n.push_back(f);
  Technician t(s, settings);
  t.work();
  ASSERT_TRUE(t.done()) << t.told();
  EXPECT_TRUE(t.rejected.empty()) << t.rejected.front();
  const auto captured = gauge::make_table(captured_runs(t, s), {});

  SimBoard board(rig_plant(s), board_of(s, true), {});
  LocalBrain brain(device_of(s));
  Bench bench(board, brain);
  const auto rig = run_rig(bench, s);
  ASSERT_TRUE(rig.failure.empty()) << rig.failure;
  const auto direct =
      gauge::make_table(gauge::read_runs(rig_csv(rig, s, "2026-03-02T07:00:00+00:00"), "rig.csv"), {});

  const double both = 1e-4 * std::hypot(captured.uncertainty_ppm, direct.uncertainty_ppm);  // %
  EXPECT_LT(both, 0.5) << "an uncertainty so large would agree with anything";
  double worst = 0.0;
  for (std::size_t channel = 0; channel < 2; ++channel) {
    for (double mbar = 66'000.0; mbar <= 320'000.0; mbar += 1'000.0) {
      worst = std::max(worst, percent_apart(captured.increasing[channel], direct.increasing[channel], mbar));
    }
    const auto& line = captured.increasing[channel].chosen();
    EXPECT_NEAR((line.at(300'000.0) - line.at(100'000.0)) / 200'000.0, 0.4656, 0.001 * 0.4656);
    const auto& down = captured.decreasing[channel].chosen();
    EXPECT_NEAR((down.at(250'000.0) - down.at(100'000.0)) / 150'000.0, 0.4944, 0.003 * 0.4944);
  }
  EXPECT_LT(worst, both);
  RecordProperty("worst_percent", std::to_string(worst));
  std::printf("captured and rig table: worst %.3f %% apart, their uncertainties %.3f %% and %.3f %%\n", worst,
              1e-4 * captured.uncertainty_ppm, 1e-4 * direct.uncertainty_ppm);
}

// Shows that the pressure of the last moving moment is what agrees: read at rest, a second after the stop,
// the same readings lie off by the friction that has let go.
TEST(SimulatedCapture, ReadAtRestTheTableWouldBeOff) {
  const Scenario s = three_series();
  SimBoard board(rig_plant(s), board_of(s, true), {});
  LocalBrain brain(device_of(s));
  Bench bench(board, brain);
  for (const char* line : {"rig", "up-to 100 kN", "wait 3 s"}) bench.person().command(line);
  ASSERT_TRUE(bench.run(120.0));
  const double law = 4656.0 * board.truth().p_cap * 1e-6;  // N, of the moving ram
  EXPECT_LT(law, 0.992 * board.truth().F_jack);
}

}  // namespace
}  // namespace strandproof::sim
