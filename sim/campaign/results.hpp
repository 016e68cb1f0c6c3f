// The results of a campaign on disk: one header line, then a line for each pull in rising order. Written in
// order whatever order the pulls end in, so the bytes do not depend on threads; a file that was cut off is
// gone on with behind its last whole line.
#pragma once

#include <cstdint>
#include <cstdio>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "sim/campaign/campaign.hpp"
#include "sim/campaign/outcome.hpp"

namespace strandproof::sim {

// Of the pulls 0, 1, 2 ... a shard takes those with pull mod count == index.
struct Shard {
  std::uint32_t index = 0;
  std::uint32_t count = 1;
};

// "# strandproof campaign 1, digest ..., pulls N, shard I of N": results of one campaign alone are merged.
std::string results_title(const Campaign& campaign, Shard shard);

class Results {
 public:
  // Makes the file, or goes on with it. Throws std::runtime_error: it can not be written, or is of another
  // campaign or shard, or holds lines out of order; with the remedy.
  Results(const std::string& path, const Campaign& campaign, Shard shard);

  // The first pull that is not in the file.
  [[nodiscard]] std::uint32_t next() const { return next_; }
  // Takes outcomes in any order; holds those that wait for one before them.
  void add(const Outcome& outcome);
  [[nodiscard]] std::size_t waiting() const { return waiting_.size(); }
  // Flushes to the disk. Throws std::runtime_error if not all could be written.
  void close();

 private:
  struct Closer {
    void operator()(std::FILE* file) const { std::fclose(file); }
  };
  void resume(const std::string& title);
  void write(const std::string& text);

  std::string path_;
  Shard shard_;
  std::uint32_t next_;
  std::map<std::uint32_t, std::string> waiting_;
  std::unique_ptr<std::FILE, Closer> file_;
};

// Every outcome of a file, in order. Throws std::runtime_error, naming the line, for a file that is no
// results, or is damaged. Returns its title.
std::string read_results(const std::string& path, const std::function<void(const Outcome&)>& take);

// All shards of one campaign into one file, the same bytes as of a run in one piece. Throws
// std::runtime_error: shards of different campaigns, one missing, twice or not run to its end.
void merge_results(const std::vector<std::string>& shards, const std::string& path, const Campaign& campaign);

}  // namespace strandproof::sim
