#include "sim/campaign/engine.hpp"

#include <chrono>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace strandproof::sim {
namespace {

// A slow pull holds back the lines after it; beyond this many the others wait, so that memory stays flat.
constexpr std::size_t waiting_most = 1024;

Outcome made(const Campaign& campaign, std::uint32_t pull, const OnePull& one) {
  Outcome o;
  try {
    o = one(drawn(campaign, pull));
  } catch (const std::exception& error) {
    o.failure = error.what();
  }
  o.pull = pull;
  return o;
}

class Crew {
 public:
  Crew(const Campaign& campaign, const RunOptions& options, const OnePull& one, Results& results)
      : campaign_{campaign}, options_{options}, one_{one}, results_{results}, next_{results.next()} {}

  void work() {
    try {
      while (const auto pull = take()) {
        const Outcome outcome = made(campaign_, *pull, one_);
        const std::lock_guard lock(mutex_);
        results_.add(outcome);
        ++done_;
        changed_.notify_all();
      }
    } catch (...) {
      const std::lock_guard lock(mutex_);
      error_ = std::current_exception();
    }
    const std::lock_guard lock(mutex_);
    ++ended_;
    changed_.notify_all();
  }

  // Until every worker has ended; tells how far it is meanwhile.
  void watch(std::uint32_t before, std::uint32_t of) {
    using Clock = std::chrono::steady_clock;
    const auto start = Clock::now();
    std::unique_lock lock(mutex_);
    for (bool over = false; !over;) {
      over =
          changed_.wait_for(lock, std::chrono::milliseconds(500), [&] { return ended_ == options_.threads; });
      const double s = std::chrono::duration<double>(Clock::now() - start).count();
      if (options_.progress) {
        const double per_s = s > 0.0 ? done_ / s : 0.0;
        const std::uint32_t left = of - before - done_;
        options_.progress({before + done_, of, per_s, per_s > 0.0 ? left / per_s : 0.0});
      }
    }
    if (error_) {
      std::rethrow_exception(error_);
    }
  }

 private:
  std::optional<std::uint32_t> take() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return results_.waiting() < waiting_most || error_ || stopped(); });
    if (error_ || stopped() || next_ >= campaign_.pulls) {
      return std::nullopt;
    }
    const std::uint32_t pull = next_;
    next_ += options_.shard.count;
    return pull;
  }
  [[nodiscard]] bool stopped() const { return options_.stop != nullptr && options_.stop->load(); }

  const Campaign& campaign_;
  const RunOptions& options_;
  const OnePull& one_;
  Results& results_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::uint32_t next_;
  std::uint32_t done_ = 0;
  unsigned ended_ = 0;
  std::exception_ptr error_;
};

std::uint32_t of_shard(std::uint32_t until, Shard shard) {
  return until <= shard.index ? 0 : (until - shard.index - 1) / shard.count + 1;
}

}  // namespace

bool run_campaign(const Campaign& campaign, const RunOptions& options, const OnePull& one) {
  Results results(options.results, campaign, options.shard);
  const std::uint32_t before = of_shard(results.next(), options.shard);
  Crew crew(campaign, options, one, results);
  {
    std::vector<std::jthread> workers;
    for (unsigned i = 0; i < options.threads; ++i) {
      workers.emplace_back([&] { crew.work(); });
    }
    crew.watch(before, of_shard(campaign.pulls, options.shard));
  }
  results.close();
  return results.next() >= campaign.pulls;
}

}  // namespace strandproof::sim
