// Files as the host tool reads and writes them.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

namespace strandproof::host {

// The whole file; "-" is standard input. Throws Problem (fault) naming the file and why it can not be read;
// longer than 64 MiB is refused.
std::string read_file(const std::string& path);

// Writes the whole text or nothing: a neighbouring file is written, flushed to the disk and renamed over
// path, and the folder is flushed: when this returns, no loss of power takes it back. mode: permission bits
// of the new file. Throws Problem (fault) naming the file and why.
void write_file(const std::string& path, std::string_view text, unsigned mode = 0644);

// write_file for what a person named with -o: refuses to replace anything but an earlier output of the same
// kind, known by `mark` in its first 4 KiB, so that a slip of the hand never costs a plan or the raw runs.
// what: "a gauge table", for the message. Throws Problem (fault) naming the file and the remedy.
void write_output(const std::string& path, std::string_view text, std::string_view mark,
                  const std::string& what);

// Until the disk has it: a file, or a folder with the names in it. Throws Problem (fault) naming it and why.
void flush_to_disk(const std::string& path);
void flush_folder_of(const std::string& path);

// Which file it is, whatever its name; nothing where there is none. A name that leads to another one later
// was taken by another file.
struct FileOnDisk {
  std::uintmax_t device, number;
  bool operator==(const FileOnDisk&) const = default;
};
std::optional<FileOnDisk> file_on_disk(const std::string& path);

// A file that grows by whole lines, each on the disk before the next: whatever ends the program, what was
// appended is there. Held by one program at a time.
class AppendFile {
 public:
  // Opens the file, or makes an empty one. Throws Problem (fault) naming the file and why; also if another
  // program holds it.
  explicit AppendFile(std::string path);
  ~AppendFile();
  AppendFile(const AppendFile&) = delete;
  AppendFile& operator=(const AppendFile&) = delete;

  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::string text() const;  // all of it
  void append(std::string_view text);      // and flushes it; where that fails the file is as it was before
  void cut(std::size_t size);              // shortens it to its first size bytes

 private:
  std::string path_;
  int fd_;
};

// Where the host tool keeps its archive and keys: $XDG_DATA_HOME/strandproof, else
// ~/.local/share/strandproof.
std::filesystem::path data_folder();

// SHA-256 in lower-case hexadecimal (libsodium).
std::string sha256_hex(std::string_view bytes);

}  // namespace strandproof::host
