// The controller's vocabulary: states, load states, causes, verdicts and refusals. Numbers, names and
// texts come from the one catalogue, so that display, wire and paper cannot disagree with the code.
#pragma once

#include <cstdint>

namespace strandproof::control {

// In the catalogue the macros of other lists are empty here.
#define STATE(number, id, text) id = number,
#define LOAD(number, id, text)
#define CAUSE(number, id, what, remedy)
#define VERDICT(number, id, text)
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
enum class State : std::uint8_t {
#include "proto/catalogue.def"
};

#define STATE(number, id, text)
#define LOAD(number, id, text) id = number,
#define CAUSE(number, id, what, remedy)
#define VERDICT(number, id, text)
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
enum class LoadState : std::uint8_t {
#include "proto/catalogue.def"
};

#define STATE(number, id, text)
#define LOAD(number, id, text)
#define CAUSE(number, id, what, remedy) id = number,
#define VERDICT(number, id, text)
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
enum class Cause : std::uint8_t {
#include "proto/catalogue.def"
};

#define STATE(number, id, text)
#define LOAD(number, id, text)
#define CAUSE(number, id, what, remedy)
#define VERDICT(number, id, text) id = number,
#define REFUSAL(number, id, why, remedy)
#define EVENT(number, id, text, detail)
enum class Verdict : std::uint8_t {
#include "proto/catalogue.def"
};

#define STATE(number, id, text)
#define LOAD(number, id, text)
#define CAUSE(number, id, what, remedy)
#define VERDICT(number, id, text)
#define REFUSAL(number, id, why, remedy) id = number,
#define EVENT(number, id, text, detail)
enum class Refusal : std::uint8_t {
#include "proto/catalogue.def"
};

inline constexpr unsigned state_count = 13;

}  // namespace strandproof::control
