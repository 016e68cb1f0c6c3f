// The whole firmware at power on, over the simulated flash.
#include <gtest/gtest.h>
#include <pb_decode.h>

#include <algorithm>
#include <array>
#include <memory>
#include <utility>
#include <vector>

#include "firmware/app/app.hpp"
#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"
#include "strandproof/wire.nanopb.h"
#include "tests/record/nasty_flash.hpp"

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

// Code and detail of each event of the log, read from the flash as the next power on would; a record that is
// no event counts as code 0.
std::vector<std::pair<std::uint32_t, std::uint32_t>> events(port::Flash& flash) {
  Vault vault{flash, device()};
  vault.mount();
  std::vector<std::pair<std::uint32_t, std::uint32_t>> found;
  record::RecordHeader header;
  std::array<std::uint8_t, record::record_body_max> body{};
  for (std::uint64_t next = 1;; next = header.sequence + 1) {
    const record::Fetched got = vault.log().read_from(next, header, body);
    if (got.error != record::Error::none) {
      return found;
    }
    strandproof_wire_Record r = strandproof_wire_Record_init_zero;
    pb_istream_t stream = pb_istream_from_buffer(body.data(), got.size);
    EXPECT_TRUE(pb_decode(&stream, strandproof_wire_Record_fields, &r));
    const bool event = r.which_what == strandproof_wire_Record_event_tag;
    found.emplace_back(event ? r.what.event.code : 0U, event ? r.what.event.detail : 0U);
  }
}

TEST(PowerOn, EveryBootIsOnRecordTheFirstOnVirginFlashAsWell) {
  sim::SimFlash flash;
  const auto boot = static_cast<std::uint32_t>(EventCode::boot);
  std::vector<std::pair<std::uint32_t, std::uint32_t>> expected;
  for (std::uint32_t boots = 1; boots <= 3; ++boots) {
    sim::SimSerial serial;
    const auto app = std::make_unique<App>(device(), flash, serial);
    app->start();
    expected.emplace_back(boot, boots);
    EXPECT_EQ(events(flash), expected);
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

// The number falls one by one and is a promise: as long as it is not 0, a pull may start once house was kept.
TEST(Vault, CountsThePullsThatAreLeftLongBeforeItRefuses) {  // H30
  sim::SimFlash flash;
  Vault vault{flash, device()};
  vault.mount();
  vault.make_room();
  std::array<std::uint8_t, record::record_body_max> longest{};
  const std::uint32_t at_first = vault.pulls_left();
  std::uint32_t shown = at_first;
  unsigned seen = 0;  // different numbers
  while (vault.pulls_left() != 0) {
    ASSERT_LE(vault.pulls_left(), shown);
    ASSERT_GE(vault.pulls_left() + 1, shown) << "none is left out";
    seen += vault.pulls_left() != shown ? 1U : 0U;
    shown = vault.pulls_left();
    vault.make_room();
    ASSERT_EQ(vault.gate(), control::Refusal::none) << shown;
    ASSERT_EQ(vault.log().append(longest, 1, 1).error, record::Error::none);
  }
  EXPECT_EQ(seen + 1, at_first);
  EXPECT_GE(at_first, 2 * few_pulls_left) << "the pendant does not warn from the first day";
  vault.make_room();
  EXPECT_EQ(vault.gate(), control::Refusal::store_full);
  vault.log().release(vault.log().last() / 2);
  EXPECT_GE(vault.pulls_left(), at_first / 2 - 1) << "counts what is released and not yet erased";
  vault.make_room();
  EXPECT_EQ(vault.gate(), control::Refusal::none);
}

// Ready marks that so many pages of the log do not take.
test::NastyFlash with_bad_pages(std::uint32_t bad) {
  test::NastyFlash flash{256, 4096, 4};
  for (std::uint32_t n = 0; n < bad; ++n) {
    flash.stick((255 - 3 * n) * 4096);
  }
  return flash;
}

TEST(Vault, WarnsAtFourFifthsOfTheSparePagesAndStartsNoPullBeyondThem) {  // H31
  struct Row {
    std::uint32_t bad;
    bool wearing;
    control::Refusal gate;
  };
  for (const Row& row : {Row{0, false, control::Refusal::none}, Row{12, false, control::Refusal::none},
                         Row{13, true, control::Refusal::none}, Row{16, true, control::Refusal::none},
                         Row{17, true, control::Refusal::store_worn}}) {
    test::NastyFlash flash = with_bad_pages(row.bad);
    Vault vault{flash, device()};
    vault.mount();
    while (vault.log().service()) {
    }
    EXPECT_EQ(vault.log().retired_pages(), row.bad);
    EXPECT_EQ(vault.log_wearing(), row.wearing) << row.bad;
    EXPECT_EQ(vault.gate(), row.gate) << row.bad;
    EXPECT_EQ(vault.pulls_left() == 0, row.gate != control::Refusal::none) << row.bad;
  }
}

TEST(PowerOn, APageThatHasFailedIsOnRecordOnce) {  // H31
  test::NastyFlash flash = with_bad_pages(1);
  for (int boot = 0; boot < 3; ++boot) {
    sim::SimSerial serial;
    const auto app = std::make_unique<App>(device(), flash, serial);
    app->start();
    for (std::uint32_t n = 1; n <= 1000; ++n) {  // house is kept at rest, a page a tick
      (void)app->tick({.tick = n});
    }
  }
  const auto all = events(flash);
  const std::pair said{static_cast<std::uint32_t>(EventCode::page_retired), 1U};
  EXPECT_EQ(std::count(all.begin(), all.end(), said), 1);
}

}  // namespace
}  // namespace strandproof::app
