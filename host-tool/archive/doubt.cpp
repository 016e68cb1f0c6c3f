#include "host-tool/archive/doubt.hpp"

#include <fcntl.h>
#include <sqlite3.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <filesystem>
#include <memory>
#include <vector>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

constexpr sqlite3_int64 block = 65536;

// A file through SQLite's own door to the disk: its locks count for every program that has the archive open.
class EngineFile {
 public:
  explicit EngineFile(const std::string& path)
      : vfs_{sqlite3_vfs_find(nullptr)},
        name_{sqlite3_create_filename(path.c_str(), "", "", 0, nullptr)},
        memory_(static_cast<std::size_t>(vfs_->szOsFile) / sizeof(std::max_align_t) + 1) {
    constexpr int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_MAIN_DB;
    int given = 0;
    open_ = name_ != nullptr && vfs_->xOpen(vfs_, name_, file(), flags, &given) == SQLITE_OK &&
            (given & SQLITE_OPEN_READONLY) == 0;
  }
  ~EngineFile() {
    if (file()->pMethods != nullptr) file()->pMethods->xClose(file());
    sqlite3_free_filename(name_);
  }
  EngineFile(const EngineFile&) = delete;
  EngineFile& operator=(const EngineFile&) = delete;

  [[nodiscard]] bool is_open() const { return open_; }
  // Against every other program; one that only reads keeps it from being given.
  bool lock() {
    return std::ranges::all_of(
        std::array{SQLITE_LOCK_SHARED, SQLITE_LOCK_RESERVED, SQLITE_LOCK_EXCLUSIVE},
        [this](int level) { return file()->pMethods->xLock(file(), level) == SQLITE_OK; });
  }
  // Every byte of it at its place, then to the disk.
  bool write_again() {
    sqlite3_int64 size = 0;
    if (file()->pMethods->xFileSize(file(), &size) != SQLITE_OK) return false;
    std::vector<char> bytes(static_cast<std::size_t>(block));
    for (sqlite3_int64 at = 0; at < size; at += block) {
      const int length = static_cast<int>(std::min(block, size - at));
      if (file()->pMethods->xRead(file(), bytes.data(), length, at) != SQLITE_OK ||
          file()->pMethods->xWrite(file(), bytes.data(), length, at) != SQLITE_OK)
        return false;
    }
    return file()->pMethods->xSync(file(), SQLITE_SYNC_FULL) == SQLITE_OK;
  }

 private:
  [[nodiscard]] sqlite3_file* file() { return reinterpret_cast<sqlite3_file*>(memory_.data()); }
  sqlite3_vfs* vfs_;
  const char* name_;
  std::vector<std::max_align_t> memory_;  // aligned for what the engine puts there
  bool open_ = false;
};

}  // namespace

void Doubt::raise() const noexcept {
  if (place_.empty()) return;
  const int fd = ::open(mark().c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0644);
  if (fd >= 0) ::close(fd);
}

bool Doubt::raised() const {
  std::error_code ignored;  // a folder that can not be read shows itself when the archive is opened
  return !place_.empty() && std::filesystem::exists(mark(), ignored);
}

bool Doubt::settle() const {
  if (!raised()) return false;
  std::error_code ignored;  // a mark that stays is looked at again at the next open
  if (!std::filesystem::exists(place_, ignored)) {
    std::filesystem::remove(mark(), ignored);  // of an archive that the power has taken before it was one
    return false;
  }
  const auto still = [this](const std::string& what) {
    return bad_input("archive " + place_ + ": the disk has failed to write it before, and " + what +
                     "; nothing is entered until it was written anew");
  };
  EngineFile archive{place_};
  if (!archive.is_open())
    throw still("it can not be opened; check disk and permissions, or restore a backup");
  if (!archive.lock()) throw still("it is in use by another program; close that program and try again");
  for (const char* end : {"-wal", "-journal"}) {
    if (!std::filesystem::exists(place_ + end)) continue;
    EngineFile beside{place_ + end};
    if (!beside.is_open() || !beside.write_again())
      throw still("fails still; change the disk, restore the backup");
  }
  if (!archive.write_again()) throw still("fails still; change the disk, restore the backup");
  std::filesystem::remove(mark(), ignored);
  return true;
}

}  // namespace strandproof::host::archive
