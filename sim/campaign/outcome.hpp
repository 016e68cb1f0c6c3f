// What one pull of a campaign leaves: a line of the results file, the same bytes whoever ran it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace strandproof::sim {

struct Outcome {
  std::uint32_t pull = 0;
  std::uint32_t verdict = 0;  // numbers of the catalogue, as recorded
  std::uint32_t cause = 0;    // first one; 0: none
  double cause_s = -1.0;      // when; negative: none
  std::string fault;          // kind of the first fault; "" if it had none
  double fault_s = -1.0;      // when it began; negative: never
  std::string breach;         // the first broken limit by name (sim/checkers); "" if none
  std::string failure;        // what kept the pull from being made; "" if nothing
  double stop_error = 0.0;    // true force at the end of settle less the jack force, over it
  double accuracy = 0.0;      // interface.md, control accuracy
  double locked_error = 0.0;  // true locked force less the recorded one, over the recorded one
  double peak = 0.0;          // largest true force over the jack force
  double duration_s = 0.0;    // of the pull, virtual
  bool settled = false;       // the figures above but peak and duration hold
};

// The header and a line, without line ends. Fields hold no comma: texts lose theirs.
std::string outcome_header();
std::string to_line(const Outcome& outcome);
// Nothing for a line that is not whole.
std::optional<Outcome> from_line(std::string_view line);

// How a pull ended, worst first.
enum class End : std::uint8_t { breach, failure, tripped, outside, within };
inline constexpr std::size_t end_count = 5;
End end_of(const Outcome& outcome);
std::string_view end_text(End end);

}  // namespace strandproof::sim
