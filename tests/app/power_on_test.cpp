// The whole firmware at power on, over the simulated flash.
#include <gtest/gtest.h>
#include <pb_decode.h>

#include <array>
#include <memory>
#include <vector>

#include "firmware/app/app.hpp"
#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"
#include "strandproof/wire.nanopb.h"

namespace strandproof::app {
namespace {

port::Device device() {
  port::Device d;
  d.jack_serial = 7;
  d.pressure_span = units::Pressure::from_si(70e6F);
  d.stroke_span = units::Length::from_si(0.6F);
  d.stroke_usable = units::Length::from_si(0.5F);
  return d;
}

// Events of the log as their codes, read from the flash as the next power on would.
std::vector<std::uint32_t> events(sim::SimFlash& flash) {
  Vault vault{flash, device()};
  vault.mount();
  std::vector<std::uint32_t> codes;
  record::RecordHeader header;
  std::array<std::uint8_t, record::record_body_max> body{};
  for (std::uint64_t next = 1;; next = header.sequence + 1) {
    const record::Fetched got = vault.log().read_from(next, header, body);
    if (got.error != record::Error::none) {
      return codes;
    }
    strandproof_wire_Record r = strandproof_wire_Record_init_zero;
    pb_istream_t stream = pb_istream_from_buffer(body.data(), got.size);
    EXPECT_TRUE(pb_decode(&stream, strandproof_wire_Record_fields, &r));
    codes.push_back(r.which_what == strandproof_wire_Record_event_tag ? r.what.event.code : 0U);
  }
}

TEST(PowerOn, EveryBootIsOnRecordTheFirstOnVirginFlashAsWell) {
  sim::SimFlash flash;
  const auto boot = static_cast<std::uint32_t>(EventCode::boot);
  for (std::size_t boots = 1; boots <= 3; ++boots) {
    sim::SimSerial serial;
    const auto app = std::make_unique<App>(device(), flash, serial);
    app->start();
    EXPECT_EQ(events(flash), std::vector<std::uint32_t>(boots, boot));
  }
  EXPECT_EQ(flash.violations(), 0U);
}

// Before the first sample there is no stroke: the record says what no current means (4 mA is zero), and not
// whatever a machine makes of a number that is none.
TEST(PowerOn, TheFirstRecordHoldsDefinedNumbers) {
  sim::SimFlash flash;
  sim::SimSerial serial;
  const auto app = std::make_unique<App>(device(), flash, serial);
  app->start();
  Vault vault{flash, device()};
  vault.mount();
  record::RecordHeader header;
  std::array<std::uint8_t, record::record_body_max> body{};
  const record::Fetched got = vault.log().read_from(1, header, body);
  ASSERT_EQ(got.error, record::Error::none);
  strandproof_wire_Record r = strandproof_wire_Record_init_zero;
  pb_istream_t stream = pb_istream_from_buffer(body.data(), got.size);
  ASSERT_TRUE(pb_decode(&stream, strandproof_wire_Record_fields, &r));
  EXPECT_NEAR(r.what.event.stroke_um, -150'000, 1);  // -4 mA of 16 on 600 mm
}

TEST(Vault, HasNoRoomForAPullBeforeTheLogIsQuiteFull) {
  sim::SimFlash flash;
  Vault vault{flash, device()};
  vault.mount();
  vault.make_room();
  ASSERT_TRUE(vault.room_for_a_pull());
  std::array<std::uint8_t, record::record_body_max> longest{};
  while (vault.room_for_a_pull()) {
    ASSERT_EQ(vault.log().append(longest, 1, 1).error, record::Error::none);
    vault.make_room();
  }
  EXPECT_FALSE(vault.log().full());
  // What was promised: a pull begun with the last room still finds a place for each of its records.
  for (std::uint32_t n = 0; n + 1 < Vault::records_of_a_pull; ++n) {
    EXPECT_EQ(vault.log().append(longest, 1, 1).error, record::Error::none) << n;
  }
}

}  // namespace
}  // namespace strandproof::app
