// libs: host_archive strandproof_wire_pb PkgConfig::SQLITE3
// Ingest with every index and the identity check, beside SQLite alone in the same run. The limit is 50,000
// records a second. Each by the clock, which other programs and the disk slow down, and by what the thread
// itself has used.
#include <benchmark/benchmark.h>
#include <sqlite3.h>

#include <chrono>
#include <ctime>
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

struct Seconds {
  double clock = 0.0, thread = 0.0;
};

Seconds now() {
  timespec used{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &used);
  return {std::chrono::duration<double>(Clock::now().time_since_epoch()).count(),
          static_cast<double>(used.tv_sec) + 1e-9 * static_cast<double>(used.tv_nsec)};
}

// Adds what the work takes.
template <class Work>
double timed(Seconds& sum, Work work) {
  const Seconds begun = now();
  work();
  const Seconds ended = now();
  sum.clock += ended.clock - begun.clock;
  sum.thread += ended.thread - begun.thread;
  return ended.clock - begun.clock;
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
  Seconds ours, bare, again;
  double count = 0.0;
  {
    archive::Archive kept{folder + "/archive.sqlite"};
    Bare alone{folder + "/bare.sqlite"};
    std::uint32_t serial = 1001;
    for (auto _ : state) {
      const auto some = records(serial++);
      (void)timed(bare, [&] { alone.add(some); });
      state.SetIterationTime(timed(ours, [&] {
        if (kept.add(some).added != static_cast<int>(batch)) state.SkipWithError("not all were new");
      }));
      (void)timed(again, [&] {
        if (kept.add(some).already_held != static_cast<int>(batch)) state.SkipWithError("not all were held");
      });
      count += static_cast<double>(batch);
    }
  }
  std::filesystem::remove_all(folder);
  state.counters["records_a_second"] = count / ours.clock;
  state.counters["records_a_thread_second"] = count / ours.thread;
  state.counters["bare_a_second"] = count / bare.clock;
  state.counters["bare_a_thread_second"] = count / bare.thread;
  state.counters["times_bare"] = ours.clock / bare.clock;
  state.counters["times_bare_of_thread"] = ours.thread / bare.thread;
  state.counters["compared_a_second"] = count / again.clock;
  state.counters["compared_a_thread_second"] = count / again.thread;
}
BENCHMARK(ingest_beside_bare_sqlite)->UseManualTime()->Unit(benchmark::kMillisecond)->Iterations(20);

}  // namespace
