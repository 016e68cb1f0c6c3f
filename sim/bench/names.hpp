// The catalogue's numbers as names and texts for people: scenario, operator channel, summary, trace.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

namespace strandproof::sim {

// States by the numbers that the commands and checkers need; the catalogue stays the one list.
namespace state {
#define STATE(number, id, text) inline constexpr std::uint8_t id = number;
#define LOAD(number, id, text)
#define CAUSE(number, id, what, remedy)
#define VERDICT(number, id, text)
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
#include "proto/catalogue.def"
}  // namespace state
namespace load {
#define STATE(number, id, text)
#define LOAD(number, id, text) inline constexpr std::uint8_t id = number;
#define CAUSE(number, id, what, remedy)
#define VERDICT(number, id, text)
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
#include "proto/catalogue.def"
}  // namespace load
namespace cause {
#define STATE(number, id, text)
#define LOAD(number, id, text)
#define CAUSE(number, id, what, remedy) inline constexpr std::uint8_t id = number;
#define VERDICT(number, id, text)
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
#include "proto/catalogue.def"
}  // namespace cause
namespace verdict {
#define STATE(number, id, text)
#define LOAD(number, id, text)
#define CAUSE(number, id, what, remedy)
#define VERDICT(number, id, text) inline constexpr std::uint8_t id = number;
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
#include "proto/catalogue.def"
}  // namespace verdict

struct CauseText {
  std::string_view name, what, remedy;
};

// Identifiers with '-' for '_', as a scenario writes them: "main-pull". "?" for an unknown number.
std::string_view state_name(std::uint8_t number);
std::optional<std::uint8_t> state_number(std::string_view name);
std::vector<std::string_view> state_names();
std::string_view load_text(std::uint8_t number);
std::string_view verdict_text(std::uint32_t number);
CauseText cause_text(std::uint8_t number);
// Why something was refused and what to do, in one line.
struct RefusalText {
  std::string_view why, remedy;
};
RefusalText refusal_text(std::uint32_t number);

}  // namespace strandproof::sim
