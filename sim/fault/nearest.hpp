// The nearest known name to a mistyped one, for "did you mean".
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

namespace strandproof::sim {

// Number of insertions, deletions and replacements that turn one name into the other.
inline std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) {
    row[j] = j;
  }
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0U : 1U);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row[b.size()];
}

// The known name with the smallest distance; of equals the first. Empty only if known is empty.
inline std::string_view nearest(std::string_view name, std::span<const std::string_view> known) {
  std::string_view best;
  std::size_t smallest = static_cast<std::size_t>(-1);
  for (const std::string_view candidate : known) {
    const std::size_t distance = edit_distance(name, candidate);
    if (distance < smallest) {
      smallest = distance;
      best = candidate;
    }
  }
  return best;
}

}  // namespace strandproof::sim
