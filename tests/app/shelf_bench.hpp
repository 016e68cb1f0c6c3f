// A table shelf over a nasty flash, as at a jack: power on, load, cut, power on again. Serial numbers, dates
// and columns are invented.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <vector>

#include "firmware/app/from_wire.hpp"
#include "firmware/app/table_shelf.hpp"
#include "proto/peer/keys.hpp"
#include "strandproof/wire.pb.h"
#include "tests/record/nasty_flash.hpp"

namespace strandproof::app {

inline constexpr std::uint64_t calibrated_s = 1'790'000'000, due_s = calibrated_s + 365ULL * 86'400;

// Each revision comes from runs of its own, an hour after those of the one before.
inline constexpr std::uint64_t calibrated_of(std::uint32_t revision) {
  return calibrated_s + 3600ULL * revision;
}

inline proto::TableKey table_key(std::uint8_t n) {
  proto::Key seed{};
  seed.fill(n);
  return proto::TableKey{seed};
}

inline link::TableKey enrolment(std::uint8_t n) {
  link::TableKey k;
  const std::string name = "key " + std::to_string(n);
  std::copy(name.begin(), name.end(), k.name.begin());
  k.key = table_key(n).public_key();
  return k;
}

// A table whose every number depends on its revision: a mixture of two equals neither.
inline wire::GaugeTable table_message(std::uint32_t revision) {
  wire::GaugeTable t;
  t.set_revision(revision);
  t.set_jack_serial(7);
  t.set_sensor_a_serial(71);
  t.set_sensor_b_serial(72);
  t.set_calibrated_s(calibrated_of(revision));
  t.set_due_s(due_s);
  t.set_class_tenths(10);
  t.set_uncertainty_ppm(6000);
  t.set_origin(1);
  std::uint32_t shift = revision;
  for (wire::GaugeColumn* c : {t.mutable_a_increasing(), t.mutable_a_decreasing(), t.mutable_b_increasing(),
                               t.mutable_b_decreasing()}) {
    for (std::uint32_t i = 1; i <= 24; ++i) {
      c->add_pressure_mbar(17'000 * i + shift);
      c->add_force_n(8'000 * i + 3 * shift);
    }
    shift += 1000;
  }
  return t;
}

struct SignedTable {
  std::vector<std::uint8_t> bytes;
  proto::Signature signature{};
};

inline SignedTable signed_by(const wire::GaugeTable& t, std::uint8_t key = 1) {
  const std::string s = t.SerializeAsString();
  SignedTable out{{s.begin(), s.end()}, {}};
  out.signature = table_key(key).sign(out.bytes);
  return out;
}

inline constexpr control::Jack bench_jack{.serial = 7,
                                          .sensor_a_serial = 71,
                                          .sensor_b_serial = 72,
                                          .origin = 1,
                                          .pressure_span = units::Pressure::from_si(70e6F),
                                          .pressure_rig_rating = units::Pressure::from_si(40e6F),
                                          .pressure_limit = units::Pressure::from_si(45e6F),
                                          .stroke_span = units::Length::from_si(0.6F),
                                          .stroke_usable = units::Length::from_si(0.5F)};

inline test::NastyFlash shelf_flash() {
  return {2 * record::cell_count + 8, 2048, 8};
}

// One life of the shelf between two power cuts.
struct Life {
  explicit Life(port::Flash& flash, const control::Jack& jack = bench_jack)
      : vault{flash, {}}, controller{jack, control::default_settings} {
    vault.mount();
    shelf.restore();
  }

  link::Code load(const SignedTable& t, std::uint64_t now_s = 0) {
    strandproof_wire_GaugeTable message = strandproof_wire_GaugeTable_init_zero;
    if (!decode_table(t.bytes, message)) {
      return link::Code::malformed;  // as the transfer says, before the shelf is asked
    }
    return shelf.install(message, t.bytes, t.signature, now_s);
  }
  link::Code load(std::uint32_t revision, std::uint8_t key = 1) {
    return load(signed_by(table_message(revision), key));
  }
  link::Code withdraw(std::uint32_t revision, std::uint32_t reason = 1) {
    return shelf.withdraw({.revision = revision, .reason = reason});
  }
  link::Code undo(std::uint32_t from, std::uint32_t to) { return shelf.undo({.from = from, .to = to}); }
  strandproof_wire_Tables tables() const {
    strandproof_wire_Tables t = strandproof_wire_Tables_init_zero;
    shelf.fill(t);
    return t;
  }
  std::uint32_t in_use() const { return controller.table().revision; }

  Vault vault;
  control::Controller controller;
  TableShelf shelf{vault, controller};
};

// The signed bytes of a slot, read as a host reads them.
inline std::vector<std::uint8_t> slot_bytes(const TableShelf& shelf, std::uint32_t slot) {
  std::vector<std::uint8_t> out;
  for (std::uint32_t i = 0;; ++i) {
    strandproof_wire_TableBytes b = strandproof_wire_TableBytes_init_zero;
    if (shelf.bytes({.slot = slot, .index = i}, b) != link::Code::none) {
      return out;
    }
    out.insert(out.end(), b.data.bytes, b.data.bytes + b.data.size);
  }
}

// A shelf whose life can be begun again over the same flash.
struct Shelf : testing::Test {
  Shelf() { boot(); }
  void boot(const control::Jack& jack = bench_jack) { life = std::make_unique<Life>(flash, jack); }
  void with_two_keys() {
    ASSERT_TRUE(life->shelf.enrol(enrolment(1)));
    ASSERT_TRUE(life->shelf.enrol(enrolment(2)));
  }
  test::NastyFlash flash = shelf_flash();
  std::unique_ptr<Life> life;
};

}  // namespace strandproof::app
