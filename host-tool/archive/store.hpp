// The engine under the archive: one SQLite session with its errors as clear lines, transactions, and the
// schema with its migration. Private to this folder, for it brings SOCI's headers along. Bytes are kept as
// hexadecimal text: blobs differ between engines.
#pragma once

#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <cstdint>
#include <string>

#include "host-tool/archive/archive.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {

inline constexpr int schema_version = 2;

class Store {
 public:
  // Throws Problem (fault) as Archive says.
  Store(const std::string& path, const Options& options);

  // Runs the work; an engine's error becomes one clear line.
  template <class Work>
  auto guarded(Work work) -> decltype(work()) {
    try {
      return work();
    } catch (const soci::sqlite3_soci_error& e) {
      throw explained(e.result(), e.what());
    } catch (const soci::soci_error& e) {
      throw explained(SQLITE_ERROR, e.what());
    }
  }

  // Begin immediate: two writers meet here, before either has done work.
  template <class Work>
  auto in_transaction(Work work) {
    return guarded([&] {
      session_ << "begin immediate";
      try {
        auto result = work();
        session_ << "commit";
        return result;
      } catch (...) {
        roll_back();
        throw;
      }
    });
  }

  soci::session& session() { return session_; }
  [[nodiscard]] const std::string& path() const { return path_; }

  // Of a stored text. Throws Problem (fault) if it is no hexadecimal any more.
  [[nodiscard]] std::string bytes(const std::string& hex) const;

 private:
  [[nodiscard]] Problem explained(int engine_code, const std::string& engine_text) const;
  void roll_back() noexcept;
  int held_version();
  int checked_version();
  void create();
  void migrate(int from, const Options& options);
  std::string back_up(int from);

  std::string path_;
  soci::session session_;
};

// SQLite keeps 64 bits with a sign; sequences and ticks stay far below.
inline long long wide(std::uint64_t value) {
  return static_cast<long long>(value);
}
inline std::uint32_t narrow(long long value) {
  return static_cast<std::uint32_t>(value);
}

}  // namespace strandproof::host::archive
