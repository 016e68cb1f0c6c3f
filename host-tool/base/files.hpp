// Files as the host tool reads and writes them.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace strandproof::host {

// The whole file; "-" is standard input. Throws Problem (fault) naming the file and why it can not be read;
// longer than 64 MiB is refused.
std::string read_file(const std::string& path);

// Writes the whole text or nothing: a neighbouring file is written, flushed to the disk and renamed over
// path. mode: permission bits of the new file. Throws Problem (fault) naming the file and why.
void write_file(const std::string& path, std::string_view text, unsigned mode = 0644);

// Where the host tool keeps its archive and keys: $XDG_DATA_HOME/strandproof, else
// ~/.local/share/strandproof.
std::filesystem::path data_folder();

// SHA-256 in lower-case hexadecimal (libsodium).
std::string sha256_hex(std::string_view bytes);

}  // namespace strandproof::host
