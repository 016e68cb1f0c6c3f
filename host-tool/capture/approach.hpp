// What the jack's own samples say about one approach to a set point: that it came from one side only, that
// the ram moved long enough for its friction to be that of a moving ram, and the pressures at the very moment
// at which it stopped.
//
// Why that moment: the gauge table's increasing branch is of a moving ram, and raw pressure falls by about
// 1 % at an unchanged force once the ram is at rest (friction lets go). But a person, or a slow instrument,
// can read the reference cell only while nothing moves. The force that is held is the force at the stop, so
// the pressure that belongs to it is that of the last moving moment. One straight line is laid through the
// samples of the moving ram, one through those of the ram at rest; where they cross it stopped. No clock of
// the cell and no stiffness of the rig is needed, and valve delays drop out.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <vector>

namespace strandproof::host::capture {

// One telemetry message of the jack.
struct JackSample {
  std::uint64_t ms = 0;                   // jack's clock
  std::uint32_t state = 0, cause = 0;     // numbers of proto/catalogue.def
  std::uint32_t outputs = 0;              // bits of proto/SPEC.md, Telemetry
  std::array<double, 2> pressure_mbar{};  // channels A and B
  double stroke_um = 0.0;
  double oil_c = 0.0;
};

enum class Motion { still, up, down };
Motion motion(const JackSample& sample);  // as the valves are commanded

// Of the ram at rest after a move.
struct Stop {
  Motion from;                            // the direction it moved in
  std::uint64_t ms;                       // when its valve was shut
  std::array<double, 2> pressure_mbar{};  // at the last moving moment
  double stroke_um = 0.0;
  double oil_c = 0.0;
};

class Approach {
 public:
  // Samples in the order of their time, 20 to 50 ms apart. A gap over 200 ms, or time going back, starts
  // over.
  void add(const JackSample& sample);
  void start_over();  // forgets everything: line lost, or another approach is wanted

  [[nodiscard]] Motion moving() const;
  [[nodiscard]] std::uint64_t still_ms() const;  // since the last move, or since the first sample
  // Stroke gone in the direction of the last move since the ram last moved the other way, um.
  [[nodiscard]] double travelled_um() const;
  [[nodiscard]] Motion last_move() const { return last_; }
  [[nodiscard]] double highest_mbar() const { return highest_; }  // of channel A since start_over

  // Once the ram has been at rest for rest_ms after a move: the pressures at the stop. Nothing before that,
  // or if the move can not be read; then why() says so for a person.
  [[nodiscard]] const std::optional<Stop>& stop() const { return found_; }
  [[nodiscard]] const std::string& why() const { return why_; }
  // Means over the last rest_ms, for a reading without a move (zero).
  [[nodiscard]] std::optional<Stop> rest() const;

  static constexpr std::uint64_t rest_ms = 1'000;
  static constexpr double least_travel_um =
      1'000.0;  // seals turn round within 0.1 mm (assumed); ten times that

 private:
  void read_stop();
  [[nodiscard]] Stop mean(const std::vector<const JackSample*>& samples) const;

  std::deque<JackSample> samples_;  // the last few seconds
  Motion last_ = Motion::still;
  std::uint64_t stopped_ms_ = 0;
  double turned_um_ = 0.0;  // stroke at which it last began to move this way
  double highest_ = 0.0;
  std::optional<Stop> found_;
  std::string why_;
};

}  // namespace strandproof::host::capture
