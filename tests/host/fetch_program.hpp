// `log fetch` as a program that ends where the test says, at a whole firmware.
#pragma once

#include <gmock/gmock.h>

#include <filesystem>
#include <string>
#include <vector>

#include "host-tool/fetch/copy_log.hpp"
#include "tests/app/app_bench.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::fetch {

using app::Desk;

constexpr unsigned records = 150;  // three batches

struct EndOfTheProgram {};

// One run of the program, that ends after so many steps.
class Program {
 public:
  Program(Desk& desk, const std::string& folder, unsigned steps,
          const std::string& archive = "archive.sqlite")
      : desk_{desk},
        left_{steps},
        kept_{archive.find("://") == std::string::npos ? folder + "/" + archive : archive},
        intake_{folder + "/keys", app::bench_keys(), kept_, app::bench_device().jack_serial} {}

  // As `log fetch` does it. True: to its end.
  bool fetch() {
    try {
      desk_.peer.on_record = [this](const wire::LogRecord& r) {
        intake_.take(r);
        step();
      };
      intake_.on_batch = [this](const archive::Added&) { step(); };  // entered, and the head not yet kept
      const auto run = [this](const auto& job) {
        job(desk_.peer, {});
        EXPECT_TRUE(desk_.done());
        step();
        return desk_.peer.last_result();
      };
      run([](proto::Peer& p, proto::Peer::Done done) { p.identify(std::move(done)); });
      counted_ = copy_log(run, desk_.peer, intake_, copy_name(kept_, "office", "archive.sqlite"));
      leave();
      return true;
    } catch (const EndOfTheProgram&) {
      leave();
      return false;
    }
  }

  Counted counted() const { return counted_; }

 private:
  void leave() {
    desk_.peer.abandon();
    desk_.peer.line_lost();
    desk_.peer.on_record = {};
  }
  void step() {
    if (left_-- == 0) throw EndOfTheProgram{};
  }

  Desk& desk_;
  unsigned left_;
  archive::Archive kept_;
  Intake intake_;
  Counted counted_ = Counted::nothing_held;
};

// The jack's log as it lies there.
inline std::vector<std::string> log_of(Desk& d) {
  std::vector<std::string> bodies;
  d.peer.on_record = [&](const wire::LogRecord& r) { bodies.push_back(r.body()); };
  d.peer.fetch_log(1);
  EXPECT_TRUE(d.done());
  d.peer.on_record = {};
  return bodies;
}

inline wire::Status status_of(Desk& d) {
  d.peer.read_status();
  EXPECT_TRUE(d.done());
  return d.peer.status().value_or(wire::Status{});
}

class FetchTest : public test::FolderTest {
 protected:
  static constexpr unsigned never = 1'000'000;

  static void prepare(Desk& d) {
    d.pair();
    for (unsigned i = 0; i < records; ++i) {
      d.peer.set_clock(1'800'000'000 + i);
    }
    ASSERT_TRUE(d.done());
    d.run(900);  // the checkpoints
  }
  std::vector<std::string> held(const std::string& name = "archive.sqlite") const {
    std::vector<std::string> bodies;
    for (const auto& r : archive::Archive{folder_ + "/" + name}.records()) bodies.push_back(r.body);
    return bodies;
  }
  std::uint64_t newest_held() const { return archive::Archive{folder_ + "/archive.sqlite"}.last_sequence(7); }
  void clear() const {
    for (const char* end : {"", "-wal", "-shm"}) std::filesystem::remove(folder_ + "/archive.sqlite" + end);
    std::filesystem::remove_all(folder_ + "/keys");
  }
};

}  // namespace strandproof::host::fetch
