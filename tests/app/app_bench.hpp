// The whole firmware at a desk: a person at the pendant, a host at the other end of the line, no plant. Each
// tick of it asserts that no output that moves anything is on: nothing of this moves oil.
#pragma once

#include <gtest/gtest.h>

#include <functional>
#include <memory>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "firmware/app/app.hpp"
#include "proto/peer/peer.hpp"
#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"
#include "tests/app/shelf_bench.hpp"

namespace strandproof::app {

inline port::Device bench_device() {
  port::Device d;
  d.jack_serial = 7;
  d.sensor_a_serial = 71;
  d.sensor_b_serial = 72;
  d.pressure_span = units::Pressure::from_si(70e6F);
  d.pressure_limit = units::Pressure::from_si(45e6F);
  d.stroke_span = units::Length::from_si(0.6F);
  d.stroke_usable = units::Length::from_si(0.5F);
  d.origin = port::Origin::simulated;
  d.secret.fill(9);
  return d;
}

inline proto::HostKeys bench_keys() {
  proto::HostKeys k;
  k.host_id = 77;
  k.name = "office";
  k.key.fill(5);
  return k;
}

// That the tables of the bench allow.
inline wire::PullInstruction instruction() {
  wire::PullInstruction i;
  i.set_id(11);
  i.set_bed(1);
  i.set_position(4);
  i.set_jack_serial(7);
  i.set_initial_n(15'000);
  i.set_seated_n(129'000);
  i.set_jack_n(130'000);
  i.set_limit_n(142'000);
  i.set_stiffness_n_per_m(325'000);
  i.set_stiffness_ppm(20'000);
  i.set_elongation_um(353'000);
  i.set_elongation_min_um(336'000);
  i.set_elongation_max_um(371'000);
  i.set_draw_in_um(3'000);
  i.set_draw_in_max_um(6'000);
  i.set_slack_max_um(90'000);
  i.set_force_window_ppm(20'000);
  return i;
}

struct Desk {
  Desk() { boot(); }
  void boot() {
    serial = std::make_unique<sim::SimSerial>();
    app = std::make_unique<App>(bench_device(), flash, *serial);
    app->start();
  }

  void tick() {
    using enum port::Input;
    constexpr std::uint16_t healthy = port::bit(emergency_stop_1) | port::bit(emergency_stop_2) |
                                      port::bit(barrier_1) | port::bit(barrier_2) | port::bit(oil_level_ok) |
                                      port::bit(supply_ok);
    port::RawSample s;
    s.tick = ++sample_tick;
    s.pressure_a = pressure_a;
    s.pressure_b = 10'923;       // 4 mA
    s.stroke = 11'700;           // 10 mm
    s.oil_temperature = 27'307;  // 10 mA: 25 degC
    s.digital = static_cast<std::uint16_t>((healthy | keys) & ~open);
    const AppAnswer a = app->tick(s);
    constexpr auto moving = static_cast<port::OutputBits>(
        port::bit(port::Output::motor) | port::bit(port::Output::advance_valve) |
        port::bit(port::Output::lower_valve) | port::bit(port::Output::seat_valve) |
        port::bit(port::Output::shut_off_valve));
    ASSERT_EQ(a.outputs & moving, 0) << "oil moved in tick " << sample_tick;
    state = a.state;
  }

  // Lets the host talk for so many ticks, or until it has nothing more to do.
  void run(unsigned ticks) {
    for (unsigned i = 0; i < ticks; ++i) {
      const auto sent = peer.take();
      if (on_sent) on_sent(sent);
      serial->push(sent);
      tick();
      peer.feed(serial->take(), sample_tick);
      peer.poll(sample_tick);
    }
  }
  bool done(unsigned most = 100'000) {
    for (unsigned i = 0; i < most && peer.busy(); ++i) {
      run(1);
    }
    return !peer.busy();
  }
  std::uint32_t code() {
    EXPECT_TRUE(done());
    return peer.last_result().code;
  }

  void press(port::Input key, unsigned ticks = 60) {
    keys = port::bit(key);
    run(ticks);
    keys = 0;
    run(60);
  }
  void menu(unsigned entry) {
    press(port::Input::reset);
    for (unsigned i = 0; i < entry; ++i) {
      press(port::Input::select);
    }
    press(port::Input::confirm);
  }
  std::string line(unsigned n) {
    run(110);  // the display is composed every 100 ms
    return std::string{app->display()[n].view()};
  }

  void pair() {
    menu(3);
    peer.on_check = [this](std::uint32_t) { asked = true; };
    peer.pair();
    run(400);
    press(port::Input::confirm);
    ASSERT_TRUE(done());
    ASSERT_TRUE(peer.last_result().ok()) << peer.last_result().what;
  }
  void enrol(std::uint8_t n) {
    menu(5);
    peer.enrol_table_key("key " + std::to_string(n), table_key(n).public_key());
    run(400);
    press(port::Input::confirm);
    ASSERT_TRUE(done());
    ASSERT_TRUE(peer.last_result().ok()) << peer.last_result().what;
  }
  std::uint32_t load(std::uint32_t revision, std::uint8_t key = 1) {
    const SignedTable t = signed_by(table_message(revision), key);
    peer.load_table(t.bytes, revision, t.signature);
    return code();
  }
  wire::Tables tables() {
    peer.read_tables();
    EXPECT_TRUE(done());
    return peer.tables().value_or(wire::Tables{});
  }
  // The same by another host, while this one is at work.
  wire::Tables looked_at_by_another() {
    proto::Peer other{bench_keys()};
    other.read_tables();
    for (unsigned i = 0; i < 10'000 && other.busy(); ++i) {
      serial->push(other.take());
      tick();
      other.feed(serial->take(), sample_tick);
      other.poll(sample_tick);
    }
    EXPECT_FALSE(other.busy());
    return other.tables().value_or(wire::Tables{});
  }

  // Code, detail and value of every event on record, fetched over the link.
  struct Event {
    std::uint32_t code, detail, value;
    friend bool operator==(const Event&, const Event&) = default;
  };
  std::vector<Event> events() {
    std::vector<Event> out;
    peer.on_record = [&](const wire::LogRecord& r) {
      wire::Record record;
      EXPECT_TRUE(record.ParseFromString(r.body()));
      out.push_back({record.event().code(), record.event().detail(), record.event().value()});
    };
    peer.fetch_log(0);
    EXPECT_TRUE(done());
    peer.on_record = {};
    return out;
  }
  bool has(EventCode code, std::uint32_t detail, std::uint32_t value) {
    const auto all = events();
    return std::find(all.begin(), all.end(), Event{static_cast<std::uint32_t>(code), detail, value}) !=
           all.end();
  }

  sim::SimFlash flash;
  std::unique_ptr<sim::SimSerial> serial;
  std::unique_ptr<App> app;
  proto::Peer peer{bench_keys()};
  std::function<void(std::span<const std::uint8_t>)>
      on_sent;  // each byte of the host, as it goes onto the wire
  std::uint32_t sample_tick = 0;
  std::uint16_t keys = 0, open = 0;   // inputs held, and inputs that have failed or are pressed open
  std::uint16_t pressure_a = 10'923;  // 4 mA
  std::uint8_t state = 0;
  bool asked = false;
};

}  // namespace strandproof::app
