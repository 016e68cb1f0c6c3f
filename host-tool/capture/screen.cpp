#include "host-tool/capture/screen.hpp"

#include <fmt/core.h>
#include <unistd.h>

#include <cstdio>
#include <nlohmann/json.hpp>
#include <string_view>

namespace strandproof::host::capture {
namespace {

using Json = nlohmann::ordered_json;
using std::chrono::milliseconds;

constexpr milliseconds between_lines{200};     // of the live line on a terminal
constexpr milliseconds between_values{1'000};  // of JSON live values

// Common practice at presses and calibration frames; local rules and the makers' instructions come first.
constexpr std::string_view caution_text =
    "CAUTION: a loaded frame, rod or strand that fails throws its parts along the line of the force.\n"
    "  Stand to the side, out of that line, behind the guard; nobody else inside the barrier while it is "
    "loaded.\n"
    "  No hands on cell, couplings, hoses or frame while loaded. Nothing is straightened under load: lower "
    "first.\n"
    "  The frame, the cell and the jack must all be rated for the largest force. Wear eye protection.\n"
    "  Site rules, makers' instructions and local codes come first. This program moves nothing: you do, at "
    "the\n"
    "  pendant. Letting go of an enable stops.\n";

std::string_view name(Motion move) {
  return move == Motion::up ? "up" : move == Motion::down ? "down" : "none";
}
std::string_view name(Event::What what) {
  return what == Event::What::reading ? "reading" : what == Event::What::rejected ? "rejected" : "note";
}
std::string_view direction(Kind kind) {
  return kind == Kind::up ? "up" : kind == Kind::down ? "down" : "zero";
}

void print_json(const Json& value) {
  fmt::print("{}\n", value.dump(-1, ' ', true, Json::error_handler_t::replace));
  std::fflush(stdout);
}

Json event_json(const Event& event, const Capture& capture) {
  Json j{{"event", name(event.what)}, {"text", event.text}};
  if (!event.reading) return j;
  const Reading& r = *event.reading;
  j["direction"] = direction(r.step.kind);
  j["series"] = r.step.series;
  j["set_point_n"] = r.step.set_point_n;
  j["pressure_a_mbar"] = r.pressure_mbar[0];
  j["pressure_b_mbar"] = r.pressure_mbar[1];
  j["reference_n"] = r.reference_n;
  j["readings"] = capture.readings();
  j["wanted"] = capture.readings_wanted();
  return j;
}

}  // namespace

Screen::Screen(bool json, std::string typed_unit)
    : json_{json}, terminal_{!json && ::isatty(STDOUT_FILENO) == 1}, typed_unit_{std::move(typed_unit)} {}

bool Screen::caution() {
  if (json_) {
    print_json({{"event", "caution"}, {"text", caution_text}});
    return false;
  }
  fmt::print("{}Press Enter when everybody stands clear. ", caution_text);
  std::fflush(stdout);
  return true;
}

void Screen::line(const std::string& text) {
  fmt::print("{}{}\n", live_open_ ? "\r\033[K" : "", text);
  live_open_ = false;
  if (told_.entries > 0) told_ = {};  // the question is asked again below what was said
  std::fflush(stdout);
}

void Screen::note(const std::string& text) {
  json_ ? print_json({{"event", "note"}, {"text", text}}) : line("   " + text);
}

void Screen::event(const Event& event, const Capture& capture) {
  if (json_) return print_json(event_json(event, capture));
  switch (event.what) {
    case Event::What::note:
      return line("   " + event.text);
    case Event::What::rejected:
      return line("REJECTED  " + event.text);
    case Event::What::reading:
      const auto& p = event.reading->pressure_mbar;
      return line(fmt::format("READ  {}   A {:.1f} bar  B {:.1f} bar   {} of {}", event.text, p[0] / 1e3,
                              p[1] / 1e3, capture.readings(), capture.readings_wanted()));
  }
}

void Screen::instruct(const Instruction& now) {
  if (json_) {
    return print_json({{"event", "instruction"},
                       {"move", name(now.move)},
                       {"to_n", now.to_n},
                       {"entries", now.entries},
                       {"text", now.text}});
  }
  line("-> " + now.text);
  if (now.entries == 0) return;
  fmt::print("   value in {}: ", typed_unit_);
  std::fflush(stdout);
}

void Screen::show(const Capture& capture) {
  if (const auto& now = capture.instruction(); !(now == told_)) {
    instruct(now);
    told_ = now;
  }
  const auto now = std::chrono::steady_clock::now();
  if (now - shown_ < (json_ ? between_values : between_lines)) return;
  shown_ = now;
  // While a value is being typed the line belongs to the person.
  if (json_ || (terminal_ && told_.entries == 0)) live(capture);
}

void Screen::live(const Capture& capture) {
  const auto& jack = capture.jack_now();
  const auto& cell = capture.cell_now();
  if (!jack) return;
  if (json_) {
    return print_json({{"event", "live"},
                       {"pressure_a_mbar", jack->pressure_mbar[0]},
                       {"pressure_b_mbar", jack->pressure_mbar[1]},
                       {"cell_n", cell ? Json(*cell) : Json(nullptr)},
                       {"stroke_um", jack->stroke_um},
                       {"readings", capture.readings()},
                       {"wanted", capture.readings_wanted()}});
  }
  std::string text = fmt::format("   A {:6.1f} bar  B {:6.1f} bar", jack->pressure_mbar[0] / 1e3,
                                 jack->pressure_mbar[1] / 1e3);
  if (cell) text += fmt::format("  cell {:7.2f} kN", *cell / 1e3);
  text += fmt::format("  stroke {:6.1f} mm  oil {:4.1f} degC", jack->stroke_um / 1e3, jack->oil_c);
  if (capture.wait_s() > 0) text += fmt::format("  wait {} s", capture.wait_s());
  fmt::print("\r\033[K{}   [{} of {}]", text, capture.readings(), capture.readings_wanted());
  std::fflush(stdout);
  live_open_ = true;
}

void Screen::end(const std::string& text) {
  json_ ? print_json({{"event", "end"}, {"text", text}}) : line(text);
}

}  // namespace strandproof::host::capture
