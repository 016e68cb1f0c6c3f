// A passphrase from a person or from a file; never from the command line, where every user of the computer
// could read it, and never printed.
#pragma once

#include <string>

namespace strandproof::host::keys {

// Bytes that are wiped when they go. Not copied, so that no second place has to be wiped.
class Secret {
 public:
  explicit Secret(std::string bytes) : bytes_{std::move(bytes)} {}
  Secret(Secret&& other) noexcept;
  Secret& operator=(Secret&&) = delete;
  Secret(const Secret&) = delete;
  Secret& operator=(const Secret&) = delete;
  ~Secret();
  [[nodiscard]] const std::string& bytes() const { return bytes_; }

 private:
  std::string bytes_;
};

inline constexpr std::size_t passphrase_min = 10;    // characters of a new one
inline constexpr std::size_t passphrase_max = 1024;  // and of any

// The first line of `file`, else of the file that STRANDPROOF_PASSPHRASE_FILE names, else what is typed at
// the terminal without echo after `prompt`. A file must be its owner's alone. Throws Problem (fault): no file
// and no terminal, a file that others may read, an empty line.
Secret ask_passphrase(const std::string& file, const std::string& prompt);

// The same for a passphrase that is made: at the terminal it is typed twice and must agree. Throws Problem
// (fault) also if it is shorter than passphrase_min.
Secret ask_new_passphrase(const std::string& file, const std::string& prompt);

}  // namespace strandproof::host::keys
