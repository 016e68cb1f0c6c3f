// A disk under SQLite that keeps no promise but the sync: a VFS over the system's own that counts every
// write, truncation, sync and delete, can fail any of them, and knows what would be there after the power was
// lost. SQLite documents it as "The OS Interface or VFS"; evidence.md asks for the crash at the VFS, because
// after kill -9 the page cache survives.
#pragma once

#include <cstdint>
#include <map>
#include <random>
#include <string>
#include <vector>

namespace strandproof::host::archive {

enum class Fault {
  none,
  crash,  // from this step on nothing reaches the disk and every step fails
  full,   // from this step on every write fails, as a full disk does
  // From this sync on (counted by themselves) every one fails, or the first of them alone. What was to be
  // made durable is dropped as Linux does it: it reads back until the power is lost, and no later sync writes
  // it.
  syncs,
  one_sync,
};

// What survives of the writes since a file's last sync. A deleted file may come back where its folder was not
// synced, except in `all`.
enum class Survives { none, all, some_sectors, all_but_half_the_last };
inline constexpr Survives every_model[] = {Survives::none, Survives::all, Survives::some_sectors,
                                           Survives::all_but_half_the_last};

class CrashDisk {
 public:
  // Registers itself as SQLite's default VFS; one at a time.
  CrashDisk();
  ~CrashDisk();
  CrashDisk(const CrashDisk&) = delete;
  CrashDisk& operator=(const CrashDisk&) = delete;

  // at: the step; of the two faults of syncs, the sync. some_reached: of what a failed sync drops, some
  // sectors had been written.
  void fail(Fault fault, int at, bool some_reached = false);
  void mend() { fault_ = Fault::none; }
  [[nodiscard]] int steps() const { return steps_; }
  [[nodiscard]] int syncs() const { return syncs_; }
  [[nodiscard]] bool has_failed() const { return failed_; }

  // Writes what is there after the power was lost into a folder; file names as they were.
  void image(const std::string& folder, Survives model, std::uint64_t seed) const;

  // Of the VFS. Each returns an SQLite result; the real file is touched only if it is SQLITE_OK.
  int on_write(const std::string& file, std::string bytes, std::int64_t offset);
  int on_truncate(const std::string& file, std::int64_t size);
  int on_sync(const std::string& file);
  int on_delete(const std::string& file, bool folder_synced);
  [[nodiscard]] bool dead() const { return failed_ && fault_ == Fault::crash; }

 private:
  struct Step {
    bool write;
    std::int64_t at;  // offset, or the new size
    std::string bytes;
  };
  struct File {
    std::string durable;
    std::vector<Step> pending;
    bool gone = false;
  };
  bool due();
  bool sync_fails();
  void drop(File& file);
  static void apply(std::string& content, const Step& step);
  static std::string survivor(const File& file, Survives model, std::mt19937_64& random);

  std::map<std::string, File> files_;
  Fault fault_ = Fault::none;
  int at_ = 0, steps_ = 0, syncs_ = 0;
  bool failed_ = false, some_reached_ = false;
};

}  // namespace strandproof::host::archive
