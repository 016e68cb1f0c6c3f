// What a jack says of the copies of its log, in words.
#pragma once

#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::fetch {

// "yard office:archive (1122 3344 5566 7788) holds up to record 120, 3 behind".
[[nodiscard]] std::string copy_line(const wire::LogCopy& copy, std::uint64_t last_record);
// What a person has still to do before the jack may erase what it holds; nothing where all is well.
[[nodiscard]] std::vector<std::string> left_to_do(const wire::Status& status);
// An archive that ends before what this jack was told that it holds is an older copy of itself, put in its
// place: the jack keeps the mark of each archive by its identity, over the power, and never takes it back.
// What there is to do, as one line; "" where all is well.
[[nodiscard]] std::string older_copy(const archive::Archive& kept, std::uint32_t jack,
                                     const wire::Status& status);
[[nodiscard]] std::string copies_json(const wire::Status& status);

}  // namespace strandproof::host::fetch
