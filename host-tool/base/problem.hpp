// What goes wrong while the host tool works, as one line for a person: what, where, and the remedy.
// Thrown where it is met and printed once, by main; nothing has been changed when it is thrown.
#pragma once

#include <stdexcept>
#include <string>

namespace strandproof::host {

// Exit codes of the program: 0 good, 1 refused by a rule or outside limits, 2 wrong use, bad input or fault.
enum class Exit { good = 0, refused = 1, fault = 2 };

class Problem : public std::runtime_error {
 public:
  Problem(Exit exit, const std::string& line) : std::runtime_error{line}, exit_{exit} {}
  [[nodiscard]] Exit exit() const { return exit_; }

 private:
  Exit exit_;
};

inline Problem refused(const std::string& line) {
  return {Exit::refused, line};
}
inline Problem bad_input(const std::string& line) {
  return {Exit::fault, line};
}

}  // namespace strandproof::host
