// The catalogue's texts by number, for the display.
#pragma once

#include <string_view>

#include "firmware/control/names.hpp"

namespace strandproof::app {

[[nodiscard]] std::string_view text_of(control::State s);
[[nodiscard]] std::string_view text_of(control::LoadState l);
[[nodiscard]] std::string_view what_of(control::Cause c);
[[nodiscard]] std::string_view remedy_of(control::Cause c);
[[nodiscard]] std::string_view text_of(control::Verdict v);
[[nodiscard]] std::string_view why_of(control::Refusal r);
[[nodiscard]] std::string_view text_of_part(unsigned part);  // PART of the catalogue; empty for 0

}  // namespace strandproof::app
