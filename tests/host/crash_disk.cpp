#include "tests/host/crash_disk.hpp"

#include <sqlite3.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <new>

namespace strandproof::host::archive {
namespace {

constexpr std::size_t sector = 512;

CrashDisk* disk = nullptr;
sqlite3_vfs* real = nullptr;
sqlite3_vfs ours;

// The real file lies behind ours in the memory that SQLite gives.
struct OurFile {
  sqlite3_file base;
  std::string* name;  // nothing: a file without a name, which no crash outlives
};
sqlite3_file* under(sqlite3_file* f) {
  return reinterpret_cast<sqlite3_file*>(reinterpret_cast<char*>(f) + sizeof(OurFile));
}
std::string* name_of(sqlite3_file* f) {
  return reinterpret_cast<OurFile*>(f)->name;
}

int x_close(sqlite3_file* f) {
  delete name_of(f);
  return under(f)->pMethods->xClose(under(f));
}
int x_read(sqlite3_file* f, void* to, int size, sqlite3_int64 at) {
  return disk->dead() ? SQLITE_IOERR_READ : under(f)->pMethods->xRead(under(f), to, size, at);
}
int x_write(sqlite3_file* f, const void* from, int size, sqlite3_int64 at) {
  if (name_of(f) != nullptr) {
    const int said =
        disk->on_write(*name_of(f), {static_cast<const char*>(from), static_cast<std::size_t>(size)}, at);
    if (said != SQLITE_OK) return said;
  }
  return under(f)->pMethods->xWrite(under(f), from, size, at);
}
int x_truncate(sqlite3_file* f, sqlite3_int64 size) {
  const int said = name_of(f) == nullptr ? SQLITE_OK : disk->on_truncate(*name_of(f), size);
  return said != SQLITE_OK ? said : under(f)->pMethods->xTruncate(under(f), size);
}
// The real disk need not sync: what is durable is kept here.
int x_sync(sqlite3_file* f, int) {
  return name_of(f) == nullptr ? SQLITE_OK : disk->on_sync(*name_of(f));
}
int x_size(sqlite3_file* f, sqlite3_int64* size) {
  return under(f)->pMethods->xFileSize(under(f), size);
}
int x_lock(sqlite3_file* f, int level) {
  return under(f)->pMethods->xLock(under(f), level);
}
int x_unlock(sqlite3_file* f, int level) {
  return under(f)->pMethods->xUnlock(under(f), level);
}
int x_reserved(sqlite3_file* f, int* out) {
  return under(f)->pMethods->xCheckReservedLock(under(f), out);
}
int x_control(sqlite3_file* f, int what, void* argument) {
  return under(f)->pMethods->xFileControl(under(f), what, argument);
}
int x_sector(sqlite3_file*) {
  return static_cast<int>(sector);
}
int x_device(sqlite3_file*) {
  return 0;  // nothing is atomic, ordered or safe from its neighbours
}
int x_shm_map(sqlite3_file* f, int page, int size, int extend, void volatile** out) {
  return under(f)->pMethods->xShmMap(under(f), page, size, extend, out);
}
int x_shm_lock(sqlite3_file* f, int offset, int n, int flags) {
  return under(f)->pMethods->xShmLock(under(f), offset, n, flags);
}
void x_shm_barrier(sqlite3_file* f) {
  under(f)->pMethods->xShmBarrier(under(f));
}
int x_shm_unmap(sqlite3_file* f, int remove) {
  return under(f)->pMethods->xShmUnmap(under(f), remove);
}

const sqlite3_io_methods methods{2,        x_close,   x_read,     x_write,       x_truncate,  x_sync,
                                 x_size,   x_lock,    x_unlock,   x_reserved,    x_control,   x_sector,
                                 x_device, x_shm_map, x_shm_lock, x_shm_barrier, x_shm_unmap, nullptr,
                                 nullptr};

int x_open(sqlite3_vfs*, const char* name, sqlite3_file* f, int flags, int* out) {
  auto* mine = reinterpret_cast<OurFile*>(f);
  mine->base.pMethods = nullptr;
  mine->name = nullptr;
  if (disk->dead()) return SQLITE_CANTOPEN;
  const int said = real->xOpen(real, name, under(f), flags, out);
  if (said != SQLITE_OK) return said;
  mine->base.pMethods = &methods;
  if (name != nullptr) mine->name = new std::string{std::filesystem::path{name}.filename().string()};
  return SQLITE_OK;
}
int x_delete(sqlite3_vfs*, const char* name, int sync_folder) {
  const int said = disk->on_delete(std::filesystem::path{name}.filename().string(), sync_folder != 0);
  return said != SQLITE_OK ? said : real->xDelete(real, name, sync_folder);
}

}  // namespace

CrashDisk::CrashDisk() {
  real = sqlite3_vfs_find("unix");
  ours = *real;
  ours.zName = "crash";
  ours.szOsFile = static_cast<int>(sizeof(OurFile)) + real->szOsFile;
  ours.xOpen = x_open;
  ours.xDelete = x_delete;
  disk = this;
  sqlite3_vfs_register(&ours, 1);
}

CrashDisk::~CrashDisk() {
  sqlite3_vfs_unregister(&ours);
  sqlite3_vfs_register(real, 1);
  disk = nullptr;
}

void CrashDisk::fail(Fault fault, int at, bool some_reached) {
  fault_ = fault;
  at_ = at;
  some_reached_ = some_reached;
}

// One step further; whether the fault acts on it.
bool CrashDisk::due() {
  ++steps_;
  const bool now = (fault_ == Fault::crash || fault_ == Fault::full) && steps_ >= at_;
  failed_ = failed_ || now;
  return now;
}

bool CrashDisk::sync_fails() {
  ++syncs_;
  if ((fault_ != Fault::syncs && fault_ != Fault::one_sync) || syncs_ < at_) return false;
  failed_ = true;
  if (fault_ == Fault::one_sync) fault_ = Fault::none;
  return true;
}

void CrashDisk::drop(File& f) {
  std::mt19937_64 random{static_cast<std::uint64_t>(syncs_)};
  if (some_reached_) f.durable = survivor(f, Survives::some_sectors, random);
  f.pending.clear();
}

int CrashDisk::on_write(const std::string& file, std::string bytes, std::int64_t offset) {
  const bool now = due();
  if (now && fault_ == Fault::crash) return SQLITE_IOERR_WRITE;
  if (now && fault_ == Fault::full) return SQLITE_FULL;
  if (files_[file].gone) files_[file] = {};  // made anew: nothing of the deleted one is in it
  files_[file].pending.push_back({true, offset, std::move(bytes)});
  return SQLITE_OK;
}

int CrashDisk::on_truncate(const std::string& file, std::int64_t size) {
  if (due() && fault_ == Fault::crash) return SQLITE_IOERR_TRUNCATE;
  files_[file].pending.push_back({false, size, {}});
  return SQLITE_OK;
}

int CrashDisk::on_sync(const std::string& file) {
  if (due() && fault_ == Fault::crash) return SQLITE_IOERR_FSYNC;
  File& f = files_[file];
  if (sync_fails()) {
    drop(f);
    return SQLITE_IOERR_FSYNC;
  }
  for (const auto& step : f.pending) apply(f.durable, step);
  f.pending.clear();
  return SQLITE_OK;
}

int CrashDisk::on_delete(const std::string& file, bool folder_synced) {
  if (due() && fault_ == Fault::crash) return SQLITE_IOERR_DELETE;
  files_[file].gone = true;
  if (folder_synced) files_.erase(file);
  return SQLITE_OK;
}

void CrashDisk::apply(std::string& content, const Step& step) {
  if (!step.write) {
    content.resize(static_cast<std::size_t>(step.at));
    return;
  }
  const auto end = static_cast<std::size_t>(step.at) + step.bytes.size();
  if (content.size() < end) content.resize(end);
  content.replace(static_cast<std::size_t>(step.at), step.bytes.size(), step.bytes);
}

std::string CrashDisk::survivor(const File& f, Survives model, std::mt19937_64& random) {
  std::string content = f.durable;
  for (std::size_t i = 0; i < f.pending.size(); ++i) {
    const Step& step = f.pending[i];
    if (model == Survives::none) break;
    if (model == Survives::all || !step.write) {
      if (model != Survives::some_sectors || random() % 2 == 0) apply(content, step);
      continue;
    }
    const bool last = i + 1 == f.pending.size();
    for (std::size_t at = 0; at < step.bytes.size(); at += sector) {
      const bool kept =
          model == Survives::some_sectors ? random() % 2 == 0 : !last || at < step.bytes.size() / 2;
      if (kept)
        apply(content, {true, step.at + static_cast<std::int64_t>(at), step.bytes.substr(at, sector)});
    }
  }
  return content;
}

void CrashDisk::image(const std::string& folder, Survives model, std::uint64_t seed) const {
  std::mt19937_64 random{seed};
  std::filesystem::create_directories(folder);
  for (const auto& [name, file] : files_) {
    // A deleted file may come back where its folder was not synced.
    if (file.gone && (model == Survives::all || random() % 2 == 0)) continue;
    std::ofstream{folder + "/" + name, std::ios::binary} << survivor(file, model, random);
  }
}

}  // namespace strandproof::host::archive
