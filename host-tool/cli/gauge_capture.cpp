// `gauge capture`: the lines, the keyboard and the file around the guided capture (capture/capture.hpp). What
// it sends to the jack are questions: who are you, and send your values. No key of this host is used.
#include <fmt/core.h>
#include <poll.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cmath>
#include <ctime>

#include "host-tool/base/interrupt.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bed/quantity.hpp"
#include "host-tool/capture/capture.hpp"
#include "host-tool/capture/cell_port.hpp"
#include "host-tool/capture/run_file.hpp"
#include "host-tool/capture/screen.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/gauge/reading_rules.hpp"
#include "host-tool/link/session.hpp"

namespace strandproof::host::cli {
namespace {

using Clock = std::chrono::steady_clock;
constexpr std::uint32_t telemetry_ms = 20;
constexpr std::chrono::milliseconds silent_after{1'000};
constexpr std::chrono::hours line_patience{1};  // a pulled cable is waited for; Ctrl-C ends the waiting
constexpr int set_points_least = 5;             // the fit refuses fewer
constexpr int spot_points_least = 3;

// ---- options

double force(const std::string& text, const std::string& option) {
  const auto value = bed::read_quantity(text, bed::Kind::force);
  if (!value.good) throw bad_input(fmt::format("{}: {}", option, value.problem));
  return value.si;
}

// "30, 60, 90 kN": the last one's unit is that of those that have none.
std::vector<int> set_points(const std::string& list) {
  const auto blank = list.find_last_of(' ');
  const std::string unit = blank == std::string::npos ? "" : list.substr(blank + 1);
  std::vector<int> points;
  std::size_t start = 0;
  while (start <= list.size()) {
    const auto comma = std::min(list.find(',', start), list.size());
    std::string one = list.substr(start, comma - start);
    one.erase(0, one.find_first_not_of(' '));
    if (one.find_first_not_of("0123456789.") == std::string::npos) one += " " + unit;
    points.push_back(static_cast<int>(std::lround(force(one, "--set-points"))));
    start = comma + 1;
  }
  return points;
}

capture::Settings settings_of(const GaugeCapture& o) {
  capture::Settings s{.set_points_n = set_points(o.set_points),
                      .series = o.series,
                      .down_series = o.down,
                      .exercises = o.exercises,
                      .typed = o.cell_port.empty()};
  if (o.spot) s.series = s.exercises = 1;
  if (o.spot) s.down_series = 0;
  const int least = o.spot ? spot_points_least : set_points_least;
  if (static_cast<int>(s.set_points_n.size()) < least) {
    throw bad_input(
        fmt::format("--set-points: {} where at least {} are needed; add some", s.set_points_n.size(), least));
  }
  if (s.down_series > s.series) throw bad_input("--down: more than --series; lower one of them");
  return s;
}

int class_tenths(const std::string& text) {
  if (text == "00") return 0;
  if (text == "0.5") return 5;
  if (text == "1") return 10;
  if (text == "2") return 20;
  throw bad_input(fmt::format("--cell-class: '{}' is none of 00, 0.5, 1, 2 (ISO 376)", shown(text)));
}

gauge::ReferenceCell cell_of(const GaugeCapture& o) {
  const auto due = parse_time(o.cell_due);
  if (!due) {
    throw bad_input(
        fmt::format("--cell-due: '{}' is no time; write 2027-05-04T00:00:00+02:00", shown(o.cell_due)));
  }
  if (o.cell_serial.empty() || o.cell_serial.find_first_of(",;\"\n\r\t") != std::string::npos ||
      shown(o.cell_serial) != o.cell_serial) {
    throw bad_input("--cell-serial: letters and digits as on the cell's plate, at most 32, without commas");
  }
  return {o.cell_serial,
          class_tenths(o.cell_class),
          std::round(force(o.cell_from, "--cell-from")),
          std::round(force(o.cell_to, "--cell-to")),
          *due,
          o.cell_ppm};
}

// ---- the keyboard

class Keyboard {
 public:
  // The next whole line, if one was typed. ended() once nobody types any more.
  std::optional<std::string> line() {
    pollfd asked{STDIN_FILENO, POLLIN, 0};
    while (!ended_ && ::poll(&asked, 1, 0) == 1) {
      std::array<char, 256> block{};
      const ssize_t got = ::read(STDIN_FILENO, block.data(), block.size());
      ended_ = got <= 0;
      if (got > 0) text_.append(block.data(), static_cast<std::size_t>(got));
    }
    const auto end = text_.find('\n');
    if (end == std::string::npos) return std::nullopt;
    std::string line = text_.substr(0, end);
    text_.erase(0, end + 1);
    return line;
  }
  [[nodiscard]] bool ended() const { return ended_; }

 private:
  std::string text_;
  bool ended_ = false;
};

// ---- the jack

capture::JackSample sample_of(const wire::Telemetry& t) {
  return {t.now_ms(),
          t.state(),
          t.cause(),
          t.outputs(),
          {static_cast<double>(t.pressure_a_mbar()), static_cast<double>(t.pressure_b_mbar())},
          static_cast<double>(t.stroke_um()),
          t.oil_tenths_degc() / 10.0};
}

class Guide {
 public:
  Guide(const Common& common, const GaugeCapture& options)
      : options_{options},
        settings_{settings_of(options)},
        cell_{cell_of(options)},
        screen_{common.json, options.typed_unit},
        session_{link::choose_port(common.port), {}, session_options()} {
    capture::check(settings_, cell_, std::time(nullptr));
    if (!options.cell_port.empty()) cell_port_.emplace(options.cell_port);
  }

  Exit run() {
    greet();
    capture::RunFile file(options_.output, declared());
    std::vector<capture::Step> done;
    for (const auto& r : file.readings()) done.push_back(r.step);
    capture::check_resumed(capture::steps(settings_), done, options_.output);
    if (file.first_taken_s() != 0 &&
        std::time(nullptr) - file.first_taken_s() > gauge::longest_calibration_s) {
      throw refused(
          fmt::format("{}: its first reading was taken {}, more than 7 days ago: no calibration takes that "
                      "long; begin a new file",
                      options_.output, format_time(file.first_taken_s())));
    }
    if (!file.dropped().empty()) screen_.note("a torn last line was dropped: " + file.dropped());
    capture::Capture capture(settings_, file.readings());
    if (screen_.caution() && !wait_for_enter()) return stopped(capture);
    listen_to(capture);
    while (!capture.done() && !interrupted()) turn(capture, file);
    return capture.done() ? finished(capture) : stopped(capture);
  }

 private:
  link::SessionOptions session_options() {
    link::SessionOptions options;
    options.reconnect = line_patience;
    options.tell = [this](const std::string& news) { screen_.note(news); };
    return options;
  }

  // Who answers, and whether it is made of the parts that were declared.
  void greet() {
    const auto& i = session_.identify();
    capture::check_parts({options_.jack, options_.sensor_a, options_.sensor_b},
                         {i.jack_serial(), i.sensor_a_serial(), i.sensor_b_serial()});
    origin_ = static_cast<gauge::Origin>(i.origin());
    session_.must([](proto::Peer& p, proto::Peer::Done d) { p.set_telemetry(telemetry_ms, std::move(d)); });
    heard_ = Clock::now();
  }
  [[nodiscard]] capture::Declared declared() const {
    return {options_.jack, {options_.sensor_a, options_.sensor_b}, origin_, cell_, options_.ambient_c};
  }
  void listen_to(capture::Capture& capture) {
    heard_ = Clock::now();
    session_.peer().on_telemetry = [this, &capture](const wire::Telemetry& t) {
      heard_ = Clock::now();
      capture.jack(sample_of(t));
    };
  }

  void turn(capture::Capture& capture, capture::RunFile& file) {
    session_.listen();
    if (Clock::now() - heard_ > silent_after) ask_again(capture);
    if (cell_port_) read_cell(capture);
    while (const auto line = keyboard_.line()) type(capture, *line);
    for (const auto& event : capture.take()) {
      if (event.reading) file.append(*event.reading, std::time(nullptr));
      screen_.event(event, capture);
    }
    if (settings_.typed && keyboard_.ended())
      throw bad_input("the keyboard has ended; the same command goes on");
    screen_.show(capture);
  }

  // The line came back, or the jack was switched off and on: it may be another one.
  void ask_again(capture::Capture& capture) {
    capture.jack_lost();
    screen_.show(capture);
    try {
      session_.must([](proto::Peer& p, proto::Peer::Done d) { p.identify(std::move(d)); });
    } catch (const Problem& silent) {
      if (silent.what() != silence_) screen_.note(silence_ = silent.what());
      return;
    }
    silence_.clear();
    greet();
  }

  void read_cell(capture::Capture& capture) {
    for (const double force_n : cell_port_->read()) capture.cell(force_n);
    if (const auto news = cell_port_->news(); !news.empty()) screen_.note(news);
    if (cell_port_->silent()) capture.cell_lost();
  }

  void type(capture::Capture& capture, const std::string& line) {
    const bool bare = line.find_first_not_of("0123456789.+-") == std::string::npos;
    if (line.empty()) return;
    const auto value = bed::read_quantity(bare ? line + " " + options_.typed_unit : line, bed::Kind::force);
    if (!value.good) return screen_.note(value.problem);
    capture.typed(value.si);
  }

  bool wait_for_enter() {
    while (!interrupted() && !keyboard_.ended()) {
      if (keyboard_.line()) return true;
      session_.listen();
    }
    return false;
  }

  Exit stopped(const capture::Capture& capture) {
    screen_.end(
        fmt::format("stopped: {} of {} readings are in {}; lower to no load. The same command goes on",
                    capture.readings(), capture.readings_wanted(), options_.output));
    return Exit::refused;
  }
  Exit finished(const capture::Capture& capture) {
    session_.must([](proto::Peer& p, proto::Peer::Done d) { p.set_telemetry(0, std::move(d)); });
    screen_.end(
        fmt::format("{} readings are in {}; leave the rig mode at the pendant. Next: strandproof gauge {} {}",
                    capture.readings(), options_.output, options_.spot ? "check" : "fit", options_.output));
    return Exit::good;
  }

  const GaugeCapture& options_;
  capture::Settings settings_;
  gauge::ReferenceCell cell_;
  capture::Screen screen_;
  link::Session session_;
  std::optional<capture::CellPort> cell_port_;
  Keyboard keyboard_;
  gauge::Origin origin_ = gauge::Origin::simulated;
  Clock::time_point heard_;
  std::string silence_;
};

}  // namespace

Exit gauge_capture(const Common& common, const GaugeCapture& options) {
  stop_on_interrupt();
  return Guide(common, options).run();
}

}  // namespace strandproof::host::cli
