#include "sim/campaign/results.hpp"

#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <stdexcept>

#include "sim/bench/format.hpp"

namespace strandproof::sim {
namespace {

std::runtime_error problem(const std::string& path, const std::string& what) {
  return std::runtime_error(path + ": " + what);
}

std::runtime_error line_problem(const std::string& path, std::size_t line) {
  return problem(path,
                 "line " + std::to_string(line) +
                     " is no outcome of a pull; the file was damaged: remove it and run the campaign again");
}

}  // namespace

std::string results_title(const Campaign& c, Shard shard) {
  return "# strandproof campaign 1, digest " + format("%016llx", static_cast<unsigned long long>(c.digest)) +
         ", pulls " + std::to_string(c.pulls) + ", shard " + std::to_string(shard.index + 1) + " of " +
         std::to_string(shard.count) + ", SIMULATED";
}

Results::Results(const std::string& path, const Campaign& campaign, Shard shard)
    : path_{path}, shard_{shard}, next_{shard.index} {
  const std::string title = results_title(campaign, shard);
  if (std::filesystem::exists(path)) {
    if (!std::filesystem::is_regular_file(path)) {
      throw problem(path, "is no plain file; name another folder");
    }
    resume(title);
  }
  const bool fresh = !std::filesystem::exists(path) || std::filesystem::file_size(path) == 0;
  file_.reset(std::fopen(path.c_str(), "ab"));
  if (!file_) {
    throw problem(path, "can not be written; name a folder that you may write");
  }
  if (fresh) {
    write(title + "\n" + outcome_header() + "\n");
  }
}

// Counts whole lines in their order, and cuts off what an interruption left of the next one.
void Results::resume(const std::string& title) {
  std::ifstream file(path_, std::ios::binary);
  std::uintmax_t good = 0;
  std::size_t lines = 0;
  std::string line;
  for (std::size_t n = 1; std::getline(file, line); ++n) {
    if (file.eof()) {
      break;  // no line end: torn
    }
    if (n == 1 && line != title) {
      throw problem(path_,
                    "holds results of another campaign, size or shard; name another folder, or remove it");
    }
    if (n > 2) {
      const auto outcome = from_line(line);
      if (!outcome || outcome->pull != next_) {
        throw line_problem(path_, n);
      }
      next_ += shard_.count;
    }
    if (n == 2 && line != outcome_header()) {
      throw problem(path_, "has other columns than this program; remove it and run the campaign again");
    }
    good += line.size() + 1;
    lines = n;
  }
  std::filesystem::resize_file(path_, lines < 2 ? 0 : good);
}

void Results::write(const std::string& text) {
  if (std::fwrite(text.data(), 1, text.size(), file_.get()) != text.size()) {
    throw problem(path_, "not all could be written; make room on the disk, the same command goes on");
  }
}

void Results::add(const Outcome& outcome) {
  waiting_.emplace(outcome.pull, to_line(outcome));
  for (auto first = waiting_.begin(); first != waiting_.end() && first->first == next_;
       first = waiting_.erase(first)) {
    write(first->second + "\n");
    next_ += shard_.count;
  }
}

void Results::close() {
  std::FILE* file = file_.get();
  if (std::fflush(file) != 0 || fsync(fileno(file)) != 0) {
    throw problem(path_, "not all could be written; make room on the disk, the same command goes on");
  }
  file_.reset();
}

std::string read_results(const std::string& path, const std::function<void(const Outcome&)>& take) {
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    throw problem(path, "can not be read; run the campaign first");
  }
  std::string title;
  std::string line;
  for (std::size_t n = 1; std::getline(file, line); ++n) {
    if (n == 1) {
      title = line;
      if (!title.starts_with("# strandproof campaign 1, ")) {
        throw problem(path, "is no results file of a campaign");
      }
    } else if (n == 2) {
      if (line != outcome_header()) {
        throw problem(path, "has other columns than this program; run the campaign again");
      }
    } else {
      const auto outcome = file.eof() ? std::nullopt : from_line(line);
      if (!outcome) {
        throw line_problem(path, n);
      }
      take(*outcome);
    }
  }
  return title;
}

void merge_results(const std::vector<std::string>& shards, const std::string& path,
                   const Campaign& campaign) {
  const auto count = static_cast<std::uint32_t>(shards.size());
  std::vector<std::ifstream> files;
  for (std::uint32_t i = 0; i < count; ++i) {
    files.emplace_back(shards[i], std::ios::binary);
    std::string title;
    std::string header;
    if (!std::getline(files.back(), title) || !std::getline(files.back(), header) ||
        title != results_title(campaign, {i, count})) {
      throw problem(shards[i], "is not shard " + std::to_string(i + 1) + " of " + std::to_string(count) +
                                   " of this campaign; run that shard, or name the right campaign");
    }
  }
  std::filesystem::remove(path);
  Results merged(path, campaign, {});
  std::string line;
  for (std::uint32_t pull = 0; pull < campaign.pulls; ++pull) {
    std::ifstream& file = files[pull % count];
    const bool whole = std::getline(file, line) && !file.eof();
    const auto outcome = whole ? from_line(line) : std::nullopt;
    if (!outcome || outcome->pull != pull) {
      std::filesystem::remove(path);
      throw problem(shards[pull % count], "lacks pull " + std::to_string(pull) +
                                              "; run this shard to its end, the same command goes on");
    }
    merged.add(*outcome);
  }
  merged.close();
}

}  // namespace strandproof::sim
