// The catalogue's texts by number, as the wire carries them. Unknown numbers, of a newer jack, read as such.
#pragma once

#include <cstdint>
#include <string>

namespace strandproof::host::texts {

std::string state(std::uint32_t number);
std::string load(std::uint32_t number);
std::string cause(std::uint32_t number);  // "" for none
std::string remedy(std::uint32_t cause);
std::string verdict(std::uint32_t number);
std::string refusal(std::uint32_t number);  // why, and what to do
std::string event(std::uint32_t number);
std::string table_state(std::uint32_t number);
std::string part(std::uint32_t number);
std::string entry(std::uint32_t number);         // at the bed
std::string message(std::uint32_t number);       // kind of a sealed message
std::string reason(std::uint32_t number);        // of a withdrawal
std::string event_detail(std::uint32_t number);  // what the number in an event of this code is
std::string origin(std::uint32_t number);
std::string clock_quality(std::uint32_t number);

}  // namespace strandproof::host::texts
