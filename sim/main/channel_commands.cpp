#include "sim/main/channel_commands.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <stdexcept>

#include "sim/bench/keys.hpp"
#include "sim/bench/names.hpp"

namespace strandproof::sim {
namespace {

constexpr double home_m = 0.020;  // further out, the next strand would not have the stroke it needs

// Splits "a b c" at the first space.
std::pair<std::string, std::string> first_word(const std::string& line) {
  const auto space = line.find(' ');
  return space == std::string::npos ? std::pair{line, std::string()}
                                    : std::pair{line.substr(0, space), line.substr(space + 1)};
}

std::string joined(const std::array<std::string, 4>& lines) {
  return lines[0] + " | " + lines[1] + " | " + lines[2] + " | " + lines[3];
}

}  // namespace

std::string ChannelCommands::status() const {
  const Answer& a = bench_.answer();
  const plant::Truth& t = bench_.board().truth();
  std::array<char, 240> text{};
  std::snprintf(text.data(), text.size(),
                "time_s=%.3f state=%s load=\"%s\" cause=\"%s\" force_n=%.0f stroke_mm=%.1f",
                bench_.board().time_s(), std::string(state_name(a.state)).c_str(),
                std::string(load_text(a.load_state)).c_str(), std::string(cause_text(a.cause).what).c_str(),
                std::max(t.F_strand_live, t.F_jack), t.x_ram * 1e3);  // at the rig there is no strand
  return text.data();
}

std::optional<std::string> ChannelCommands::take(const std::string& line) {
  try {
    const auto [word, rest] = first_word(line);
    if (word == "quit") {
      quit_ = true;
      return "done";
    }
    if (word == "status") {
      return status();
    }
    if (word == "display") {
      return joined(brain_.display());
    }
    if (word == "fault") {
      return fault(rest);
    }
    if (word == "end") {
      return end_fault(rest);
    }
    if (word == "thread") {
      return thread();
    }
    if (word == "power") {
      brain_.power_cycle();
      return "done";
    }
    if (word == "drop") {
      bench_.person().abandon();
      waiting_ = false;
      return "done";
    }
    bench_.person().command(line);
    waiting_ = true;
    return std::nullopt;
  } catch (const std::exception& error) {
    return std::string("failed: ") + error.what();
  }
}

std::optional<std::string> ChannelCommands::finished() {
  if (!waiting_ || !bench_.person().idle()) {
    return std::nullopt;
  }
  waiting_ = false;
  if (bench_.person().failed()) {
    return "failed: " + bench_.person().take_failure() + "; " + status();
  }
  return "done " + status();
}

std::string ChannelCommands::thread() {
  if (bench_.board().truth().x_ram > home_m) {
    return "failed: the ram is still out; let it be run home first: retract";
  }
  return bench_.board().thread_strand() ? "done"
                                        : "failed: the jack still carries something; seat or lower first";
}

std::string ChannelCommands::fault(const std::string& text) {
  const auto [name, rest] = first_word(text);
  fault::Fault made;
  made.row = &fault_row(name);
  const auto size = rest.find(" size ");
  const auto lasts = rest.find(" lasts ");
  const std::string when = rest.substr(0, std::min(lasts, size));
  if (!when.starts_with("at ")) {
    return "failed: when? write for example \"fault strand-break at 78 kN\" or \"fault barrier at now\"";
  }
  if (when == "at now") {
    made.trigger = {fault::By::time, 0.0};
  } else {
    made.trigger = parse_trigger(when.substr(3));
  }
  if (made.trigger.by == fault::By::time) {
    made.trigger.at += bench_.board().time_s();
  }
  if (lasts != std::string::npos) {
    made.lasts =
        parse_quantity(rest.substr(lasts + 7, size > lasts ? size - lasts - 7 : size), Dimension::time);
  }
  if (size != std::string::npos) {
    made.size = parse_size(*made.row, rest.substr(size + 6, lasts > size ? lasts - size - 6 : lasts));
  }
  bench_.board().faults().add(made);
  return "done";
}

std::string ChannelCommands::end_fault(const std::string& name) {
  bench_.board().faults().end(fault_row(name), bench_.board().time_s());
  return "done";
}

}  // namespace strandproof::sim
