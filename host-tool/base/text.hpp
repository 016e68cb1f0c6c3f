// Small things about text that several rooms need: times, numbers, and what may be shown of foreign input.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace strandproof::host {

// ISO 8601 with an offset ("2026-05-04T09:30:00+02:00" or "...Z") to seconds since 1970 UTC; nothing else is
// read.
std::optional<std::int64_t> parse_time(std::string_view text);

// Seconds since 1970 UTC as "2026-05-04T07:30:00Z".
std::string format_time(std::int64_t utc_s);

// Of foreign input, what can be printed on one line: at most longest characters, others than printable ASCII
// as
// '?'.
std::string shown(std::string_view text, std::size_t longest = 32);

// The entry of names that is closest to word in edits, or "" if none is within two edits.
template <class Names>
std::string nearest(std::string_view word, const Names& names);

std::size_t edit_distance(std::string_view a, std::string_view b);

template <class Names>
std::string nearest(std::string_view word, const Names& names) {
  std::string best;
  std::size_t least = 3;
  for (const auto& name : names) {
    const std::size_t distance = edit_distance(word, name);
    if (distance < least) {
      least = distance;
      best = name;
    }
  }
  return best;
}

// Lower-case hexadecimal of bytes, and back; nothing if a character is no hex digit or the length is odd.
std::string to_hex(std::string_view bytes);
std::optional<std::string> from_hex(std::string_view hex);

// "1 pull", "2 pulls".
std::string counted(std::int64_t n, std::string_view one);

}  // namespace strandproof::host
