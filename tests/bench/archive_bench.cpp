// libs: host_archive strandproof_wire_pb PkgConfig::SQLITE3
// Ingest with every index and the identity check, beside SQLite alone in the same run. The limit is 50,000
// records a second.
#include <benchmark/benchmark.h>
#include <sqlite3.h>

#include <chrono>
#include <filesystem>

#include "host-tool/archive/archive.hpp"
#include "tests/bench/archive_load.hpp"

namespace {

namespace archive = strandproof::host::archive;
using Clock = std::chrono::steady_clock;

constexpr std::size_t batch = 20000;

std::vector<archive::StoredRecord> records(std::uint32_t serial) {
  strandproof::bench::JackYears jack{serial, 1};
  std::vector<archive::StoredRecord> out;
  for (std::size_t i = 0; i < batch; ++i) out.push_back(jack.next());
  return out;
}

double seconds(Clock::time_point since) {
  return std::chrono::duration<double>(Clock::now() - since).count();
}

// A table of bytes under a key, the same journal and sync, one transaction, one prepared statement.
class Bare {
 public:
  explicit Bare(const std::string& file) {
    sqlite3_open(file.c_str(), &db_);
    run("pragma journal_mode = wal");
    run("pragma synchronous = full");
    run("create table record (device int, sequence int, body blob, primary key (device, sequence))");
  }
  ~Bare() { sqlite3_close(db_); }
  Bare(const Bare&) = delete;
  Bare& operator=(const Bare&) = delete;
  void add(const std::vector<archive::StoredRecord>& all) {
    sqlite3_stmt* insert = nullptr;
    run("begin immediate");
    sqlite3_prepare_v2(db_, "insert into record values (?, ?, ?)", -1, &insert, nullptr);
    for (const auto& r : all) {
      sqlite3_bind_int64(insert, 1, r.device);
      sqlite3_bind_int64(insert, 2, static_cast<sqlite3_int64>(r.sequence));
      sqlite3_bind_blob(insert, 3, r.body.data(), static_cast<int>(r.body.size()), SQLITE_STATIC);
      sqlite3_step(insert);
      sqlite3_reset(insert);
    }
    sqlite3_finalize(insert);
    run("commit");
  }

 private:
  void run(const char* statement) { sqlite3_exec(db_, statement, nullptr, nullptr, nullptr); }
  sqlite3* db_ = nullptr;
};

void ingest_beside_bare_sqlite(benchmark::State& state) {
  std::string folder = (std::filesystem::temp_directory_path() / "ingest.XXXXXX").string();
  if (mkdtemp(folder.data()) == nullptr) {
    state.SkipWithError("no folder");
    return;
  }
  double ours = 0.0, bare = 0.0, again = 0.0, count = 0.0;
  {
    archive::Archive kept{folder + "/archive.sqlite"};
    Bare alone{folder + "/bare.sqlite"};
    std::uint32_t serial = 1001;
    for (auto _ : state) {
      const auto some = records(serial++);
      auto since = Clock::now();
      alone.add(some);
      bare += seconds(since);
      since = Clock::now();
      if (kept.add(some).added != static_cast<int>(batch)) state.SkipWithError("not all were new");
      const double took = seconds(since);
      ours += took;
      state.SetIterationTime(took);
      since = Clock::now();
      if (kept.add(some).already_held != static_cast<int>(batch)) state.SkipWithError("not all were held");
      again += seconds(since);
      count += static_cast<double>(batch);
    }
  }
  std::filesystem::remove_all(folder);
  state.counters["records_a_second"] = count / ours;
  state.counters["bare_a_second"] = count / bare;
  state.counters["times_bare"] = ours / bare;
  state.counters["compared_a_second"] = count / again;
}
BENCHMARK(ingest_beside_bare_sqlite)->UseManualTime()->Unit(benchmark::kMillisecond)->Iterations(20);

}  // namespace
