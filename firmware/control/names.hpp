// The controller's vocabulary: states, load states, causes, verdicts and refusals. Numbers, names and
// texts come from the one catalogue, so that display, wire and paper cannot disagree with the code.
#pragma once

#include <cstdint>

namespace strandproof::control {

#define STATE(number, id, text) id = number,
enum class State : std::uint8_t {
#include "proto/catalogue.def"
};

#define LOAD(number, id, text) id = number,
enum class LoadState : std::uint8_t {
#include "proto/catalogue.def"
};

#define CAUSE(number, id, what, remedy) id = number,
enum class Cause : std::uint8_t {
#include "proto/catalogue.def"
};

#define VERDICT(number, id, text) id = number,
enum class Verdict : std::uint8_t {
#include "proto/catalogue.def"
};

#define REFUSAL(number, id, why, remedy) id = number,
enum class Refusal : std::uint8_t {
#include "proto/catalogue.def"
};

inline constexpr unsigned state_count = 15;

}  // namespace strandproof::control
