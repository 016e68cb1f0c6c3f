// How much of the line a fetch fills, in virtual time: a line of exactly so many baud, ten bits a byte, both
// ways, and a host that looks every 10 ms.
//
// The log is that of simulated pulls, appended again and again until a fetch takes some seconds. Counted:
// from the first LogGet to the last record taken, bytes of the frames whose records were taken (once each,
// both zeros included) over the bytes that the line could carry. What is left is all that a fetch wastes: the
// way there and back, a line that stands idle, frames that come twice.
#include <gtest/gtest.h>

#include <cstdio>

#include "firmware/app/app.hpp"
#include "proto/peer/peer.hpp"
#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"
#include "sim/main/device.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

constexpr unsigned host_looks_ms = 10;
constexpr std::uint64_t log_bytes = 400'000;  // of bodies

const PlainTable& table() {
  static const PlainTable made = table_from_rig(Scenario{});
  return made;
}

// A pull that ends well and one whose strand breaks, with its snapshot.
std::vector<std::string> bodies_of_pulls() {
  std::vector<std::string> bodies;
  Scenario good, broken;
  broken.seed = 9;
  broken.time_limit = 300.0;
  broken.faults.push_back({fault::find("strand-break"), {fault::By::force, 78e3}});
  for (const Scenario& s : {good, broken}) {
    for (const wire::LogRecord& r : run_pull(s, table(), {}).log) {
      bodies.push_back(r.body());
    }
  }
  return bodies;
}

// Bytes that a line carries in each millisecond, with what is left over of a byte.
class Wire {
 public:
  explicit Wire(unsigned baud) : baud_{baud} {}
  std::size_t next() {
    left_ += baud_;
    const std::size_t bytes = left_ / 10'000;
    left_ %= 10'000;
    return bytes;
  }

 private:
  unsigned baud_, left_ = 0;
};

struct Line {
  unsigned baud;
  unsigned telemetry_ms = 0;  // 0: off
  unsigned damaged = 0;       // one byte in so many; 0: none
  double least = 0.99;
};

void PrintTo(const Line& l, std::ostream* to) {
  *to << l.baud << " baud, telemetry each " << l.telemetry_ms << " ms, one byte damaged in " << l.damaged;
}

struct Yard {
  explicit Yard(const Line& l) : line{l}, down{l.baud}, up{l.baud} {
    {
      app::Vault vault{flash, device_of(Scenario{}, port::Origin::simulated)};
      vault.mount();
      static const std::vector<std::string> bodies = bodies_of_pulls();
      for (std::uint64_t written = 0, i = 0; written < log_bytes; ++i) {
        const std::string& b = bodies[i % bodies.size()];
        while (vault.log().free_records() < 2 && vault.log().service()) {
        }
        const auto done =
            vault.log().append({reinterpret_cast<const std::uint8_t*>(b.data()), b.size()}, 1, i);
        EXPECT_EQ(done.error, record::Error::none);
        written += b.size();
      }
    }
    app = std::make_unique<app::App>(device_of(Scenario{}, port::Origin::simulated), flash, serial);
    app->start();
    run(600);  // the boot's checkpoint is made: what is fetched stands
  }

  void run(unsigned ms) {
    for (unsigned i = 0; i < ms; ++i) {
      tick();
    }
  }
  void tick() {
    using enum port::Input;
    port::RawSample s;
    s.tick = static_cast<std::uint32_t>(++now);
    s.pressure_a = s.pressure_b = 10'923;
    s.stroke = 11'700;
    s.oil_temperature = 27'307;
    s.digital = port::bit(emergency_stop_1) | port::bit(emergency_stop_2) | port::bit(barrier_1) |
                port::bit(barrier_2) | port::bit(oil_level_ok) | port::bit(supply_ok);
    (void)app->tick(s);
    for (const std::uint8_t b : serial.take(down.next())) {
      ++carried;
      const bool spoilt = line.damaged != 0 && carried % line.damaged == 0;
      received.push_back(static_cast<std::uint8_t>(spoilt ? b ^ 0x10U : b));
    }
    const std::size_t n = std::min(up.next(), to_jack.size());
    serial.push(std::span{to_jack}.first(n));
    to_jack.erase(to_jack.begin(), to_jack.begin() + static_cast<std::ptrdiff_t>(n));
    if (now % host_looks_ms == 0) {
      peer.feed(std::exchange(received, {}), now);
      peer.poll(now);
      const auto more = peer.take();
      to_jack.insert(to_jack.end(), more.begin(), more.end());
    }
  }
  void until_done() {
    for (int i = 0; i < 300'000 && peer.busy(); ++i) {
      tick();
    }
    EXPECT_TRUE(peer.last_result().ok()) << peer.last_result().what;
  }

  Line line;
  Wire down, up;
  SimFlash flash;
  SimSerial serial;
  std::unique_ptr<app::App> app;
  proto::Peer peer{[] {
    proto::HostKeys k;
    k.host_id = 77;
    return k;
  }()};
  std::uint64_t now = 0, carried = 0;
  std::vector<std::uint8_t> received, to_jack;
};

std::size_t frame_size(const wire::LogRecord& r) {
  std::array<std::uint8_t, proto::frame_max> frame{};
  const std::string payload = r.SerializeAsString();
  return proto::encode_frame({.type = proto::FrameType::log_record},
                             {reinterpret_cast<const std::uint8_t*>(payload.data()), payload.size()}, frame);
}

class FetchLine : public testing::TestWithParam<Line> {};

TEST_P(FetchLine, IsFilled) {
  Yard yard{GetParam()};
  std::uint64_t frames = 0, bodies = 0, records = 0, next = 0, wrong = 0, last_ms = 0;
  std::uint64_t telemetry = 0, slowest_ms = 0, irregular = 0, before_ms = 0;
  yard.peer.on_record = [&](const wire::LogRecord& r) {
    wrong += r.from() != next && next != 0 ? 1U : 0U;
    next = r.sequence() + 1;
    frames += frame_size(r);
    bodies += r.body().size();
    ++records;
    last_ms = yard.now;
  };
  yard.peer.on_telemetry = [&](const wire::Telemetry& t) {
    slowest_ms = std::max(slowest_ms, yard.now - t.now_ms());
    irregular += telemetry++ != 0 && t.now_ms() - before_ms != GetParam().telemetry_ms ? 1U : 0U;
    before_ms = t.now_ms();
  };
  if (GetParam().telemetry_ms != 0) {
    yard.peer.set_telemetry(GetParam().telemetry_ms);
  } else {
    yard.peer.identify();
  }
  yard.until_done();
  const std::uint64_t begun_ms = yard.now;
  yard.peer.fetch_log(1);
  yard.until_done();
  const double capacity =
      static_cast<double>(last_ms - begun_ms) * static_cast<double>(GetParam().baud) / 10'000.0;
  const double share = static_cast<double>(frames) / capacity;
  std::printf(
      "%u baud, telemetry %u ms, one byte damaged in %u: %llu records, %.2f s; frames %.2f %% of the line, "
      "bodies %.2f %%; frame overhead %.1f bytes a record; telemetry %llu, slowest %llu ms\n",
      GetParam().baud, GetParam().telemetry_ms, GetParam().damaged, static_cast<unsigned long long>(records),
      static_cast<double>(last_ms - begun_ms) / 1e3, 100.0 * share,
      100.0 * static_cast<double>(bodies) / capacity,
      static_cast<double>(frames - bodies) / static_cast<double>(records),
      static_cast<unsigned long long>(telemetry), static_cast<unsigned long long>(slowest_ms));
  RecordProperty("share_per_mille", static_cast<int>(1000.0 * share));
  EXPECT_GE(share, GetParam().least);
  EXPECT_LE(share, 1.0) << "counted wrongly: a line carries no more than it can";
  EXPECT_EQ(wrong, 0U);
  EXPECT_GT(records, 1'000U);
  if (GetParam().damaged == 0) {
    EXPECT_EQ(irregular, 0U) << "the log has delayed or skipped telemetry";
  }
  EXPECT_LT(slowest_ms, 150U);
  EXPECT_EQ(telemetry > 50, GetParam().telemetry_ms != 0);
}

// With telemetry a frame of some 40 bytes each period is not the log's: at 115,200 baud and 100 ms 3.4 % of
// the line. With damage the frames are lost that were on their way until the host saw it.
INSTANTIATE_TEST_SUITE_P(Lines, FetchLine,
                         testing::Values(Line{115'200}, Line{921'600}, Line{115'200, 100, 0, 0.95},
                                         Line{921'600, 20, 0, 0.95}, Line{115'200, 0, 50'000, 0.95},
                                         Line{921'600, 0, 50'000, 0.95}));

}  // namespace
}  // namespace strandproof::sim
