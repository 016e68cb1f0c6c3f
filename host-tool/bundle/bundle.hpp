// A bundle as one HTML file: the readable part, and behind it the data block that gives it. README.md of this
// folder has the form and what it proves.
#pragma once

#include <string>
#include <vector>

#include "host-tool/bundle/prove.hpp"

namespace strandproof::host::bundle {

inline constexpr const char* file_mark = "<title>Bundle - ";  // in the first 4 KiB of each

// The same data give the same bytes. Throws Problem (refused) if the data do not hold: evidence that does not
// hold is not packed; (fault) if a text of the archive is not UTF-8, or the file would be longer than 64 MiB.
std::string file_of(const Data& data);

struct Examined {
  Data data;
  Proof proof;
  std::vector<std::string> changed;  // the file itself: its data block, its readable part
  [[nodiscard]] bool good() const { return changed.empty() && proof.faults.empty(); }
};

// name: for messages. Throws Problem (fault): no bundle, cut off, a data block that can not be read, or a
// newer form.
Examined examine(const std::string& file, const std::string& name);

}  // namespace strandproof::host::bundle
