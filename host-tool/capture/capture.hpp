// The guided capture of calibration runs, without a line, a file or a clock: samples of the jack and values
// of the reference cell in, instructions, rejections and accepted readings out. Nothing in here can move oil:
// the person does, at the pendant.
//
// A set point is approached from below only (on the decreasing run from above only) and read while the ram
// stands. What spoils a reading: past the band, a move back, too short a move, a cell or a pressure that does
// not stand still, a lost line. Each is rejected with what to do.
#pragma once

#include <array>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "host-tool/capture/approach.hpp"
#include "host-tool/capture/cell.hpp"
#include "host-tool/capture/plan.hpp"

namespace strandproof::host::capture {

struct Reading {
  Step step{};
  std::array<double, 2> pressure_mbar{};  // at the last moving moment; at rest for a zero
  double reference_n = 0.0;               // held
  double stroke_um = 0.0;
  double oil_c = 0.0;
};

struct Event {
  enum class What { reading, rejected, note };
  What what;
  std::string text;                // one line for a person
  std::optional<Reading> reading;  // of an accepted one
};

// What the person is to do next.
struct Instruction {
  Motion move = Motion::still;  // which way the ram has to go now; still: wait, or enter
  int to_n = 0;                 // force to go to
  int entries = 0;              // values of the cell still wanted from the keyboard; 0: none now
  std::string text;             // one line
  friend bool operator==(const Instruction&, const Instruction&) = default;
};

class Capture {
 public:
  // done: the readings that an interrupted capture has already on file, as check_resumed (plan.hpp) has
  // passed them. After an interruption the exercise is done once again.
  Capture(Settings settings, const std::vector<Reading>& done);

  void jack(const JackSample& sample);
  void jack_lost();            // the line, or samples: what was under way is begun again
  void cell(double force_n);   // a value from the cell's own line
  void cell_lost();            // silent or unreadable
  void typed(double force_n);  // a value from the keyboard

  [[nodiscard]] const Instruction& instruction() const { return instruction_; }
  [[nodiscard]] std::vector<Event> take();  // what happened since
  [[nodiscard]] bool done() const { return at_ == steps_.size(); }
  [[nodiscard]] int readings() const { return accepted_; }  // those on file included
  [[nodiscard]] int readings_wanted() const;
  [[nodiscard]] int wait_s() const { return wait_s_; }  // still to be waited before a zero
  [[nodiscard]] const std::optional<JackSample>& jack_now() const { return jack_; }
  [[nodiscard]] const std::optional<double>& cell_now() const { return cell_n_; }

 private:
  // A set point as it is approached: on the decreasing run everything is the other way round.
  struct Side {
    Step step;
    double band_n;
    Motion toward, away;
    [[nodiscard]] double past(double force_n) const;  // N beyond the set point, seen along the approach
    [[nodiscard]] bool beyond(double force_n) const { return past(force_n) > band_n; }
    [[nodiscard]] bool short_of(double force_n) const { return past(force_n) < -band_n; }
  };
  void turn();
  [[nodiscard]] bool in_rig_mode();
  void exercise(int top_n);
  [[nodiscard]] bool at_top(int top_n);
  void zero(const Step& step);
  void point(const Side& side);
  void read_point(const Side& side, double force_n);
  [[nodiscard]] bool returned(const Side& side) const;
  [[nodiscard]] bool unloaded() const;
  [[nodiscard]] Side side_of(const Step& step) const;
  void go_on(const Side& side);
  void go_back(const Side& side);
  void spoil(const Side& side, std::string why);
  [[nodiscard]] bool at_rest() const { return approach_.still_ms() >= Approach::rest_ms; }
  [[nodiscard]] std::optional<double> held_force(const std::string& ask, std::size_t entries);
  void accept(const Step& step, const Stop& stop, double force_n);
  void next();
  void begin_step();
  void note(const std::string& text) { events_.push_back({Event::What::note, text, std::nullopt}); }
  void tell(Motion move, int to_n, std::string text, int entries = 0);
  [[nodiscard]] double top_n() const { return settings_.set_points_n.back(); }

  Settings settings_;
  std::vector<Step> steps_;
  std::size_t at_ = 0;
  int accepted_ = 0, wait_s_ = 0;
  Approach approach_;
  CellWatch cell_;
  std::optional<JackSample> jack_;  // the newest
  std::optional<double> cell_n_;
  std::vector<double> entries_;
  Instruction instruction_;
  std::vector<Event> events_;

  // of the step
  bool loaded_ = false;       // an exercise has been at its top
  bool going_back_ = false;   // before the approach can begin
  bool under_way_ = false;    // the ram has moved toward the set point
  double furthest_n_ = none;  // the cell's value furthest along the approach
  static constexpr double none = -std::numeric_limits<double>::infinity();
  double top_mbar_ = 0.0;      // channel A at the largest set point, once it was read
  double highest_mbar_ = 0.0;  // of channel A since the capture was started
};

}  // namespace strandproof::host::capture
