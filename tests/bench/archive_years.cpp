// An archive of many jacks and years, and how long a cold `strandproof` takes for a bed's record and for a
// year of one jack. Own command: minutes and gigabytes.
//   usage: archive_years STRANDPROOF FOLDER [--seed N] RECORDS...   (each count in its order, rising)
// The archive stays in the folder: two programs can be held against each other on it.

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/archive/writing.hpp"
#include "tests/bench/archive_load.hpp"

namespace {

namespace archive = strandproof::host::archive;
using strandproof::bench::JackYears;
using Clock = std::chrono::steady_clock;

constexpr std::uint32_t jacks = 50;
constexpr std::size_t batch = 2000;  // records of one jack in a transaction
constexpr int repeats = 20;
constexpr std::size_t asked = 25;      // the jack of the questions
constexpr std::size_t withdrawn = 10;  // a jack whose table was checked and withdrawn later

double seconds(Clock::time_point since) {
  return std::chrono::duration<double>(Clock::now() - since).count();
}

// Median and longest of some cold processes, ms; ends the program if one fails.
std::pair<double, double> timed(const std::string& command) {
  std::vector<double> all;
  for (int i = 0; i < repeats; ++i) {
    const auto since = Clock::now();
    const int code = std::system((command + " > /dev/null").c_str());
    all.push_back(1e3 * seconds(since));
    if (code != 0 && code != 256) {  // 1: a bed with a position outside its limits
      std::fprintf(stderr, "archive_years: failed: %s\n", command.c_str());
      std::exit(2);
    }
  }
  std::sort(all.begin(), all.end());
  return {all[all.size() / 2], all.back()};
}

class Years {
 public:
  Years(std::string tool, std::string folder, std::uint64_t seed)
      : tool_{std::move(tool)}, file_{folder + "/years.sqlite"} {
    for (std::uint32_t j = 0; j < jacks; ++j) all_.emplace_back(1001 + j, seed);
  }

  void grow_to(std::uint64_t records) {
    archive::Archive kept{file_};
    const auto since = Clock::now();
    double adding = 0.0;
    const std::uint64_t before = held_;
    while (held_ < records) {
      for (auto& jack : all_) {
        std::vector<archive::StoredRecord> some;
        for (std::size_t i = 0; i < batch; ++i) some.push_back(jack.next());
        send(kept, jack, some);
        const auto begun = Clock::now();
        held_ += static_cast<std::uint64_t>(kept.add(some).added);
        adding += seconds(begun);
      }
    }
    std::printf("%9llu records of %u jacks, %.0f s; ingest %.0f records/s; %.0f bytes a record\n",
                static_cast<unsigned long long>(held_), jacks, seconds(since),
                static_cast<double>(held_ - before) / adding, bytes_a_record());
    withdraw(kept);
  }

  void ask() const {
    const std::string common = tool_ + " --archive " + file_ + " --keys /nonexistent ";
    const auto pulls = static_cast<std::uint32_t>(held_ / jacks / JackYears::records_a_pull);
    const std::string bed = std::to_string(all_[asked].bed_of(pulls / 2));
    const std::string doubtful = std::to_string(all_[withdrawn].bed_of(pulls / 2));
    const std::string page = file_ + ".html";
    const std::string from = strandproof_year(pulls / 2);
    std::printf("          bed %s, %s\n", bed.c_str(), from.c_str());
    show("one bed's records", timed(common + "log find --bed " + bed));
    show("one bed's stressing record", timed(common + "bed record --bed " + bed + " -o " + page));
    show("the same, table withdrawn", timed(common + "bed record --bed " + doubtful + " -o " + page));
    show("a year of one jack",
         timed(common + "archive statistics --jack " + std::to_string(all_[asked].serial()) + " " + from));
    std::filesystem::remove(page);
  }

 private:
  static void show(const char* what, std::pair<double, double> ms) {
    std::printf("          %-28s %7.1f ms (longest of %d: %.1f ms)\n", what, ms.first, repeats, ms.second);
  }
  // The instructions of these records' pulls.
  static void send(const archive::Archive& kept, const JackYears& jack,
                   const std::vector<archive::StoredRecord>& some) {
    kept.store().in_transaction([&] {
      for (const auto& r : some) {
        if (r.sequence % JackYears::records_a_pull == 0)
          archive::insert(
              kept.store(),
              jack.instruction_of(static_cast<std::uint32_t>(r.sequence / JackYears::records_a_pull - 1)));
      }
    });
  }
  // The table of the middle of the log: a check that passed right before it, a withdrawal at its end.
  void withdraw(archive::Archive& kept) const {
    const std::uint32_t jack = all_[withdrawn].serial();
    const auto pull = static_cast<std::uint32_t>(held_ / jacks / JackYears::records_a_pull / 2);
    const std::uint32_t revision = JackYears::revision_of(pull);
    const std::int64_t at_s = JackYears::begin_s + JackYears::between_s * static_cast<std::int64_t>(pull);
    const std::string readings = "{\"first_taken_s\":" + std::to_string(at_s) + "}";
    const std::uint64_t newest = kept.last_sequence(jack);
    kept.add({jack, archive::Act::checked, at_s, "technician", "", revision, "", "", newest, 1, readings});
    kept.add({jack, archive::Act::withdrawn, at_s, "technician", "dropped", revision, "", "", newest, 4, ""});
  }
  // The span of a year's length that ends with a pull.
  static std::string strandproof_year(std::uint32_t pull) {
    const std::int64_t end_s = JackYears::begin_s + JackYears::between_s * static_cast<std::int64_t>(pull);
    const auto day = [](std::int64_t utc_s) {
      char text[16];
      const std::time_t t = utc_s;
      std::strftime(text, sizeof text, "%Y-%m-%d", std::gmtime(&t));
      return std::string{text};
    };
    return "--from " + day(end_s - 365 * 86400) + " --until " + day(end_s);
  }
  [[nodiscard]] double bytes_a_record() const {
    double size = 0.0;
    for (const char* end : {"", "-wal"}) {
      std::error_code none;  // there may be no journal
      const auto n = std::filesystem::file_size(file_ + end, none);
      if (!none) size += static_cast<double>(n);
    }
    return size / static_cast<double>(held_);
  }

  std::string tool_, file_;
  std::vector<JackYears> all_;
  std::uint64_t held_ = 0;
};

}  // namespace

int main(int argc, char** argv) {
  std::uint64_t seed = 1;
  std::vector<std::uint64_t> counts;
  for (int i = 3; i < argc; ++i) {
    if (std::string{argv[i]} == "--seed" && i + 1 < argc) {
      seed = std::strtoull(argv[++i], nullptr, 10);
    } else {
      counts.push_back(std::strtoull(argv[i], nullptr, 10));
    }
  }
  if (counts.empty() || !std::is_sorted(counts.begin(), counts.end()) || counts.front() == 0) {
    std::fprintf(stderr, "usage: archive_years STRANDPROOF FOLDER [--seed N] RECORDS...  (rising)\n");
    return 2;
  }
  Years years{argv[1], argv[2], seed};
  std::printf("seed %llu\n", static_cast<unsigned long long>(seed));
  for (const auto count : counts) {
    years.grow_to(count);
    years.ask();
    std::fflush(stdout);
  }
  return 0;
}
