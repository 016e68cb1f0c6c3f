// The guided capture of calibration runs, without a line, a file or a clock: samples of the jack and values
// of the reference cell in, instructions, rejections and accepted readings out. Nothing in here can move oil:
// the person does, at the pendant.
//
// A set point is approached from below only (on the decreasing run from above only) and read while the ram
// stands. What spoils a reading: past the band, a move back, too short a move, a cell or a pressure that does
// not stand still, entries that differ, a lost line. Each is rejected with what to do.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "host-tool/capture/approach.hpp"
#include "host-tool/capture/cell.hpp"
#include "host-tool/capture/plan.hpp"

namespace strandproof::host::capture {

struct Reading {
  Step step;
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
  Kind kind = Kind::zero;
  Motion move = Motion::still;  // which way the ram has to go now; still: wait, or enter
  int to_n = 0;                 // force to go to
  int entries = 0;              // values of the cell still wanted from the keyboard, 2 or 1; 0: none now
  std::string text;             // one line
  friend bool operator==(const Instruction&, const Instruction&) = default;
};

class Capture {
 public:
  // done: the readings that an interrupted capture has already on file, in order. After an interruption the
  // exercise is done once again. Throws Problem (fault) naming the first reading that the settings do not
  // foresee at its place.
  Capture(Settings settings, std::vector<Reading> done);

  void jack(const JackSample& sample);
  void jack_lost();            // the line, or samples: what was under way is begun again
  void cell(double force_n);   // a value from the cell's own line
  void cell_lost();            // silent or unreadable
  void typed(double force_n);  // a value from the keyboard

  [[nodiscard]] const Instruction& instruction() const { return instruction_; }
  [[nodiscard]] std::vector<Event> take();  // what happened since
  [[nodiscard]] bool done() const { return at_ == steps_.size(); }
  [[nodiscard]] int readings() const;  // accepted so far, those on file included
  [[nodiscard]] int readings_wanted() const;

  struct Live {
    std::optional<JackSample> jack;
    std::optional<double> cell_n;
  };
  [[nodiscard]] const Live& live() const { return live_; }

 private:
  void turn();
  void exercise(const Step& step);
  void zero(const Step& step);
  void point(const Step& step);
  void accept(const Step& step, const Stop& stop, double force_n);
  void reject(const std::string& why);
  void note(const std::string& text);
  void tell(Motion move, int to_n, int entries, std::string text);
  void next();
  [[nodiscard]] bool in_rig_mode();
  [[nodiscard]] std::optional<double> held_force(const Step& step);
  [[nodiscard]] double top_n() const { return settings_.set_points_n.back(); }

  Settings settings_;
  std::vector<Step> steps_;
  std::size_t at_ = 0;
  Approach approach_;
  CellWatch cell_;
  Live live_;
  Instruction instruction_;
  std::vector<Event> events_;
  std::vector<double> entries_;
  double highest_n_ = 0.0;  // of the cell in this approach
  bool loaded_ = false;     // of an exercise: its top has been reached
  double top_mbar_ = 0.0;   // channel A at the largest set point, once it was read; 0: not yet
  bool from_top_ = false;   // the decreasing run must begin at the largest force again
};

}  // namespace strandproof::host::capture
