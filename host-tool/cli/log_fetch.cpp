// From the jack into the archive: log fetch, log tail; and log copies, who holds what.
#include <fmt/core.h>

#include <chrono>
#include <cstdio>
#include <ctime>
#include <optional>
#include <utility>

#include "host-tool/base/interrupt.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/cli/record_lines.hpp"
#include "host-tool/fetch/copies.hpp"
#include "host-tool/fetch/copy_log.hpp"

namespace strandproof::host::cli {
namespace {

using Clock = std::chrono::steady_clock;
constexpr std::chrono::milliseconds tail_asks{300};        // for what is new
constexpr std::chrono::minutes tail_acknowledges{1};       // a cell of the jack is written each time
constexpr std::chrono::hours tail_waits_for_the_line{24};  // Ctrl-C ends the wait

archive::JackSeen seen_now(const wire::Identity& i) {
  return {i.jack_serial(),
          std::time(nullptr),
          shown(i.build(), 64),
          i.origin(),
          fmt::format("{}.{}", i.protocol_major(), i.protocol_minor()),
          i.settings_revision(),
          i.table_revision(),
          0};
}

fetch::Run run_on(Connection& c) {
  return [&c](const auto& job) { return c.session->run(job); };
}

void tell(const std::string& news) {
  if (!news.empty()) fmt::print(stderr, "{}\n", news);
}

// A count that is written over itself, and ends its line before anything else is said.
class Progress {
 public:
  Progress() = default;
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  ~Progress() { end(); }
  void show(std::uint64_t records) {
    fmt::print(stderr, "\r{} records", records);
    open_ = true;
  }
  void end() {
    if (std::exchange(open_, false)) fmt::print(stderr, "\n");
  }

 private:
  bool open_ = false;
};

void read_status(Connection& c) {
  c.session->must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
}

void say_that_the_log_waits(Connection& c) {
  c.session->peer().on_log_waits = [told = false]() mutable {
    if (!std::exchange(told, true))
      fmt::print(stderr, "the jack moves oil; its log comes when it rests (Ctrl-C ends the wait)\n");
  };
}

void print_fetched(const Common& common, const Connection& c, const fetch::Intake& intake,
                   std::uint32_t jack) {
  const auto& status = *c.session->peer().status();
  if (common.json) {
    fmt::print("{{\"jack\":{},\"added\":{},\"last_record\":{},\"pulls_left\":{},\"copies_needed\":{}}}\n",
               jack, intake.total().added, intake.held_up_to(), status.pulls_left(), status.copies_needed());
    return;
  }
  fmt::print(
      "jack {}: {} new records; the archive holds up to record {}; the jack has room for at least {} more "
      "pulls\n",
      jack, intake.total().added, intake.held_up_to(), status.pulls_left());
  for (const auto& line : fetch::left_to_do(status)) fmt::print("jack {}: {}\n", jack, line);
}

// Follows a jack's log until Ctrl-C. The line may go and come, and so may the jack.
class Tail {
 public:
  Tail(const Common& common, Connection& c)
      : common_{common},
        c_{c},
        kept_{open_archive(common)},
        jack_{c.session->identify().jack_serial()},
        intake_{common.keys, c.keys, kept_, jack_} {
    kept_.add(seen_now(*c.session->peer().identity()));
    intake_.on_new = [this](const archive::StoredRecord& r) {
      common_.json ? print_record_json(r) : print_record(r);
      std::fflush(stdout);
    };
    c.session->peer().on_record = [this](const wire::LogRecord& r) { intake_.take(r); };
    say_that_the_log_waits(c);
  }

  Exit run() {
    while (!interrupted()) {
      demand_same_memory();
      const bool all = ask() == proto::Outcome::done;
      intake_.store();
      if (all) intake_.finish();
      if (Clock::now() - acknowledged_at_ >= tail_acknowledges) acknowledge_now();
      const auto until = Clock::now() + tail_asks;
      while (!interrupted() && Clock::now() < until) c_.session->listen();
    }
    if (silent_) {  // what is stored is stored, the jack keeps the rest
      if (intake_.held_up_to() != acknowledged_)
        tell("not acknowledged: the jack is silent, at work or still sending; the next fetch does it");
      return Exit::good;
    }
    acknowledge_now();
    if (counted_ == fetch::Counted::jack_works) tell(fetch::why_not(counted_));
    read_status(c_);
    print_fetched(common_, c_, intake_, jack_);
    return Exit::good;
  }

 private:
  // What is new, until there is no more, the jack is silent or somebody has pressed Ctrl-C.
  proto::Outcome ask() {
    auto& peer = c_.session->peer();
    std::optional<proto::Result> ended;
    peer.fetch_log(compared_ ? intake_.held_up_to() + 1 : intake_.from(), UINT64_MAX,
                   [&](const proto::Result& r) { ended = r; });
    while (!ended && !interrupted()) c_.session->listen();
    if (!ended) peer.abandon();
    const auto outcome = ended ? ended->outcome : proto::Outcome::no_answer;
    if (outcome == proto::Outcome::no_answer && !silent_ && !interrupted())
      tell(ended->what + "; waiting (Ctrl-C ends the wait)");
    if (outcome == proto::Outcome::wrong_jack)
      throw refused(ended->what + "; nothing of another jack is stored");
    silent_ = outcome == proto::Outcome::no_answer;
    compared_ = compared_ || outcome == proto::Outcome::done;
    return outcome;
  }

  // After it was away it may come with another memory.
  void demand_same_memory() {
    const auto& is = *c_.session->peer().identity();
    if (std::exchange(boot_, is.boot()) == is.boot()) return;
    intake_.demand_extends(is.last_record());
    fetch::demand_newest(run_on(c_), c_.session->peer(), intake_);
    compared_ = false;
  }

  // What the jack has turned down for good is not asked again: each try is an event in its log.
  void acknowledge_now() {
    const std::uint64_t held = intake_.held_up_to();
    acknowledged_at_ = Clock::now();
    if (held == acknowledged_ || counted_ == fetch::Counted::list_full) return;
    const auto before =
        std::exchange(counted_, fetch::acknowledge(run_on(c_), c_.session->peer(), intake_,
                                                   fetch::copy_name(kept_, c_.keys.name, common_.archive)));
    if (counted_ == fetch::Counted::yes) acknowledged_ = held;
    if (counted_ != before && counted_ != fetch::Counted::jack_works) tell(fetch::why_not(counted_));
  }

  const Common& common_;
  Connection& c_;
  archive::Archive kept_;
  std::uint32_t jack_;
  fetch::Intake intake_;
  std::uint32_t boot_ = 0;  // 0: none yet
  std::uint64_t acknowledged_ = 0;
  fetch::Counted counted_ = fetch::Counted::yes;  // as of the last try
  Clock::time_point acknowledged_at_{};
  bool silent_ = false;
  bool compared_ = false;  // the newest record that is held, since the jack was switched on
};

}  // namespace

Exit log_fetch(const Common& common) {
  auto c = connect(common);
  auto kept = open_archive(common);
  const auto& i = c.session->identify();
  kept.add(seen_now(i));
  fetch::Intake intake{common.keys, c.keys, kept, i.jack_serial()};
  intake.demand_extends(i.last_record());
  Progress progress;
  intake.on_batch = [&](const archive::Added& total) { progress.show(total.added); };
  c.session->peer().on_record = [&](const wire::LogRecord& r) { intake.take(r); };
  say_that_the_log_waits(c);
  const auto counted = fetch::copy_log(run_on(c), c.session->peer(), intake,
                                       fetch::copy_name(kept, c.keys.name, common.archive));
  progress.end();
  if (counted == fetch::Counted::list_full)
    throw refused("the records are held here, but " + why_not(counted));
  tell(fetch::why_not(counted));
  read_status(c);
  print_fetched(common, c, intake, i.jack_serial());
  return Exit::good;
}

Exit log_tail(const Common& common) {
  stop_on_interrupt();
  link::SessionOptions options;
  options.reconnect = tail_waits_for_the_line;
  options.stop = interrupted;
  auto c = connect(common, std::move(options));
  try {
    return Tail{common, c}.run();
  } catch (const link::Stopped&) {
    return Exit::good;  // while the line was away: what is stored is stored, the jack keeps the rest
  }
}

Exit log_copies(const Common& common) {
  auto c = connect(common);
  const std::uint32_t jack = c.session->identify().jack_serial();
  read_status(c);
  const auto& status = *c.session->peer().status();
  const std::string older =
      holds_an_archive(common) ? fetch::older_copy(open_archive(common), jack, status) : std::string{};
  const Exit exit = older.empty() ? Exit::good : Exit::refused;
  if (common.json) {
    fmt::print("{}\n", fetch::copies_json(status));
    tell(older);
    return exit;
  }
  fmt::print("jack {}: records up to {}; a record is erased once copies hold it: {}\n", jack,
             status.last_record(), status.copies_needed());
  for (const auto& copy : status.copies()) fmt::print("  {}\n", fetch::copy_line(copy, status.last_record()));
  for (const auto& line : fetch::left_to_do(status)) fmt::print("jack {}: {}\n", jack, line);
  tell(older);
  return exit;
}

}  // namespace strandproof::host::cli
