#include "sim/campaign/outcome.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <vector>

#include "sim/bench/format.hpp"
#include "sim/bench/names.hpp"

namespace strandproof::sim {
namespace {

// Shortest text that gives the same double back: no locale, the same on every machine.
std::string number(double value) {
  std::array<char, 32> text{};
  const auto [end, error] = std::to_chars(text.data(), text.data() + text.size(), value);
  return {text.data(), error == std::errc{} ? end : text.data()};
}

std::string field(std::string text) {
  for (char& letter : text) {
    if (letter == ',' || static_cast<unsigned char>(letter) < 0x20) {
      letter = ' ';
    }
  }
  return text;
}

template <class Number>
bool read(std::string_view text, Number& into) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), into);
  return error == std::errc{} && end == text.data() + text.size();
}

constexpr std::size_t columns = 14;

}  // namespace

std::string outcome_header() {
  return "pull,verdict,cause,cause_s,fault,fault_s,breach,failure,stop_error,accuracy,locked_error,peak,"
         "duration_s,settled";
}

std::string to_line(const Outcome& o) {
  std::string line = std::to_string(o.pull);
  for (const std::string& text :
       {std::to_string(o.verdict), std::to_string(o.cause), number(o.cause_s), field(o.fault),
        number(o.fault_s), field(o.breach), field(o.failure), number(o.stop_error), number(o.accuracy),
        number(o.locked_error), number(o.peak), number(o.duration_s), std::string(o.settled ? "1" : "0")}) {
    line += "," + text;
  }
  return line;
}

std::optional<Outcome> from_line(std::string_view line) {
  const auto f = split(line);
  Outcome o;
  int settled = 0;
  const bool good = f.size() == columns && read(f[0], o.pull) && read(f[1], o.verdict) &&
                    read(f[2], o.cause) && read(f[3], o.cause_s) && read(f[5], o.fault_s) &&
                    read(f[8], o.stop_error) && read(f[9], o.accuracy) && read(f[10], o.locked_error) &&
                    read(f[11], o.peak) && read(f[12], o.duration_s) && read(f[13], settled) &&
                    (settled == 0 || settled == 1);
  if (!good) {
    return std::nullopt;
  }
  o.fault = f[4];
  o.breach = f[6];
  o.failure = f[7];
  o.settled = settled == 1;
  return o;
}

End end_of(const Outcome& o) {
  if (!o.breach.empty()) {
    return End::breach;
  }
  if (o.verdict == verdict::within_limits) {
    return End::within;
  }
  if (o.cause != 0) {
    return End::tripped;
  }
  return o.failure.empty() ? End::outside : End::failure;
}

std::string_view end_text(End end) {
  constexpr std::array<std::string_view, end_count> texts{"a limit was breached", "not pulled to an end",
                                                          "stopped by a hazard row", "ended outside limits",
                                                          "ended within limits"};
  return texts[static_cast<std::size_t>(end)];
}

}  // namespace strandproof::sim
