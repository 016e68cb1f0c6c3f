// The wire: CRC, stuffing and frames at the length of a status and at the longest.
// libs: strandproof_proto
#include <benchmark/benchmark.h>

#include <random>
#include <vector>

#include "proto/frame.hpp"

namespace strandproof::proto {
namespace {

// Bytes as messages have them: one in eight is a zero.
std::vector<std::uint8_t> payload(std::size_t n) {
  std::mt19937 random{1};
  std::vector<std::uint8_t> p(n);
  for (std::uint8_t& b : p) {
    b = random() % 8 == 0 ? std::uint8_t{0} : static_cast<std::uint8_t>(random());
  }
  return p;
}

void bytes_done(benchmark::State& state) {
  state.SetBytesProcessed(static_cast<std::int64_t>(state.iterations()) * state.range(0));
}

void crc(benchmark::State& state) {
  const auto p = payload(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) {
    benchmark::DoNotOptimize(crc32c(p));
  }
  bytes_done(state);
}
BENCHMARK(crc)->Arg(100)->Arg(payload_max);

void stuff(benchmark::State& state) {
  const auto p = payload(static_cast<std::size_t>(state.range(0)));
  std::array<std::uint8_t, encoded_max> into{};
  for (auto _ : state) {
    benchmark::DoNotOptimize(cobs_encode(p, into));
    benchmark::ClobberMemory();
  }
  bytes_done(state);
}
BENCHMARK(stuff)->Arg(100)->Arg(payload_max);

void unstuff(benchmark::State& state) {
  const auto p = payload(static_cast<std::size_t>(state.range(0)));
  std::array<std::uint8_t, encoded_max> encoded{}, into{};
  const std::size_t n = cobs_encode(p, encoded);
  for (auto _ : state) {
    benchmark::DoNotOptimize(cobs_decode(std::span{encoded}.first(n), into));
    benchmark::ClobberMemory();
  }
  bytes_done(state);
}
BENCHMARK(unstuff)->Arg(100)->Arg(payload_max);

void encode(benchmark::State& state) {
  const auto p = payload(static_cast<std::size_t>(state.range(0)));
  std::array<std::uint8_t, frame_max> into{};
  for (auto _ : state) {
    benchmark::DoNotOptimize(encode_frame({.type = FrameType::status, .device = 4711}, p, into));
    benchmark::ClobberMemory();
  }
  bytes_done(state);
}
BENCHMARK(encode)->Arg(100)->Arg(payload_max);

void decode(benchmark::State& state) {
  const auto p = payload(static_cast<std::size_t>(state.range(0)));
  std::array<std::uint8_t, frame_max> frame{};
  const std::size_t n = encode_frame({.type = FrameType::status, .device = 4711}, p, frame);
  std::array<std::uint8_t, FrameDecoder::buffer_size> buffer{};
  FrameDecoder decoder{buffer};
  for (auto _ : state) {
    for (std::size_t i = 0; i < n; ++i) {
      benchmark::DoNotOptimize(decoder.push(frame[i]));
    }
  }
  if (decoder.counters().bad != 0) {
    state.SkipWithError("the frames did not decode");
  }
  bytes_done(state);
}
BENCHMARK(decode)->Arg(100)->Arg(payload_max);

}  // namespace
}  // namespace strandproof::proto
