// What a record's bytes say, as the columns by which it is found. The one place where the archive looks into
// a body. Private to this folder.
#pragma once

#include <cstdint>
#include <string>

namespace strandproof::host::archive {

enum class Kind : std::int64_t {
  unreadable = 0,
  event = 1,
  pull = 2,
  checkpoint = 3,
  snapshot = 4,
  curve = 5
};

struct Columns {
  Kind kind = Kind::unreadable;
  std::int64_t code = 0;   // EVENT or VERDICT of the catalogue
  std::int64_t cause = 0;  // CAUSE of the catalogue
  std::int64_t utc_s = 0;  // as the jack's clock said; 0: not set
  std::int64_t instruction = 0;
  std::int64_t bed = 0, position = 0, reel = 0, revision = 0;  // of pulls; else 0
  std::int64_t stiffness = 0;                                  // seen, N/m, of pulls that reached it; else 0
  std::string strand;                                          // as it may be shown; "" of an event
};

// Of a body that can not be read (damaged, of a newer jack) every column is 0.
Columns columns_of(const std::string& body);

// Stiffness of an encoded instruction, N/m; 0 if it can not be read.
std::int64_t planned_stiffness(const std::string& instruction_body);

}  // namespace strandproof::host::archive
