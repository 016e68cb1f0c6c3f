// libs: firmware_record firmware_crypto GTest::gtest
// What a record costs and how long a boot looks for the end of the log. Figures of the machine it runs on.
#include <benchmark/benchmark.h>

#include <vector>

#include "firmware/crypto/crypto.hpp"
#include "firmware/record/store.hpp"
#include "tests/record/nasty_flash.hpp"

namespace {

using namespace strandproof;

constexpr std::uint32_t page = 4096;

record::Region all_of(const test::NastyFlash& flash) {
  return {.base = 0, .size = flash.size(), .reserve_pages = 1};
}

void fill(record::Store& store) {
  const std::vector<std::uint8_t> body(200, 0x5A);
  while (store.append(body, 1, 1).error == record::Error::none) {
  }
}

// One record of 200 bytes, housekeeping included.
void append(benchmark::State& state) {
  test::NastyFlash flash{64, page, 8};
  record::Store store{flash, all_of(flash)};
  const std::vector<std::uint8_t> body(200, 0x5A);
  if (store.mount() != record::Error::none) {
    state.SkipWithError("mount failed");
  }
  for (auto _ : state) {
    while (store.full() && store.service()) {
    }
    const auto done = store.append(body, 1, 1);
    if (done.error != record::Error::none) {
      state.SkipWithError("append failed");
      break;
    }
    store.release(done.sequence);
  }
  state.SetBytesProcessed(state.iterations() * 200);
}
BENCHMARK(append);

// A boot on a full log of so many pages.
void mount(benchmark::State& state) {
  test::NastyFlash flash{static_cast<std::uint32_t>(state.range(0)), page, 8};
  record::Store store{flash, all_of(flash)};
  if (store.mount() != record::Error::none) {
    state.SkipWithError("mount failed");
  }
  while (store.service()) {
  }
  fill(store);
  for (auto _ : state) {
    record::Store again{flash, all_of(flash)};
    benchmark::DoNotOptimize(again.mount());
  }
}
BENCHMARK(mount)->Arg(16)->Arg(64)->Arg(250);

void hmac(benchmark::State& state) {
  const std::vector<std::uint8_t> key(32, 1);
  const std::vector<std::uint8_t> message(static_cast<std::size_t>(state.range(0)), 2);
  std::array<std::uint8_t, crypto::digest_size> tag{};
  for (auto _ : state) {
    crypto::HmacSha256 mac{key};
    mac.update(message);
    mac.finish(tag);
    benchmark::DoNotOptimize(tag);
  }
  state.SetBytesProcessed(state.iterations() * state.range(0));
}
BENCHMARK(hmac)->Arg(32)->Arg(448);

}  // namespace
