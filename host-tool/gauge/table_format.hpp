// What the writer and the reader of a table's file share.
#pragma once

namespace strandproof::host::gauge {

inline constexpr const char* format_name = "strandproof gauge table";
inline constexpr int format_version = 1;

}  // namespace strandproof::host::gauge
