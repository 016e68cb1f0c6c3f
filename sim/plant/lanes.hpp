// Doubles that are worked side by side: what the processor has for them, and the same bits where it has
// nothing. Named one by one, or in a loop, g++ gathers them anew in each tick, at three times the cost.
#pragma once

#include <cstddef>
#include <cstring>
#include <type_traits>

namespace strandproof::plant {

// No function takes or returns the bare vector: how it is passed differs between processors.
template <std::size_t n>
struct Lanes {
  using Vector [[gnu::vector_size(n * sizeof(double))]] = double;
  Vector v;

  // Of n doubles that lie one after the other, in a struct or an array of nothing else.
  template <class Doubles>
  explicit Lanes(const Doubles& of) {
    static_assert(sizeof(Doubles) == sizeof v && std::is_trivially_copyable_v<Doubles>);
    std::memcpy(&v, &of, sizeof v);
  }
  template <class Doubles>
  void put(Doubles& to) const {
    static_assert(sizeof(Doubles) == sizeof v && std::is_trivially_copyable_v<Doubles>);
    std::memcpy(static_cast<void*>(&to), &v, sizeof v);
  }
};

}  // namespace strandproof::plant
