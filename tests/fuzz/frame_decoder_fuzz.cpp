// The frame decoder, before and behind its CRC. First byte of the input: even, the rest is a stream as it
// comes; odd, each piece between zeros gets its right check bytes, so that what lies behind the CRC is
// reached. Found wrong: an accepted frame that does not encode to the very bytes it was read from, a byte
// that is neither in a frame nor counted, a frame that is lost behind damage.
//
// libs: strandproof_proto
#include <algorithm>
#include <cstdlib>
#include <vector>

#include "proto/frame.hpp"

namespace {

using namespace strandproof::proto;
using Vector = std::vector<std::uint8_t>;

void demand(bool holds) {
  if (!holds) {
    std::abort();
  }
}

void add_check(Vector& stream, const Vector& piece) {
  stream.insert(stream.end(), piece.begin(), piece.end());
  std::array<std::uint8_t, crc_size> check{};
  put_crc(crc32c(piece), check);
  stream.insert(stream.end(), check.begin(), check.end());
  stream.push_back(0);
}

Vector stream_of(const std::uint8_t* data, std::size_t size) {
  if (size == 0 || data[0] % 2 == 0) {
    return {data + (size == 0 ? 0 : 1), data + size};
  }
  Vector stream, piece;
  for (std::size_t i = 1; i < size; ++i) {
    if (data[i] != 0) {
      piece.push_back(data[i]);
    } else if (!piece.empty()) {
      add_check(stream, piece);
      piece.clear();
    }
  }
  add_check(stream, piece);
  return stream;
}

// One more than all bytes of good frames and the zeros: nothing vanishes uncounted.
struct Watched {
  std::array<std::uint8_t, FrameDecoder::buffer_size> buffer{};
  FrameDecoder decoder{buffer};
  Vector piece;  // since the last zero
  std::size_t in_frames = 0, seen = 0;

  void push(std::uint8_t b) {
    const bool good = decoder.push(b);
    if (b != 0) {
      demand(!good);
      piece.push_back(b);
      ++seen;
      return;
    }
    if (good) {
      const Frame& f = decoder.frame();
      std::array<std::uint8_t, frame_max> again{};
      const std::size_t n = encode_frame(f.header, f.payload, again);
      demand(n == piece.size() + 2 && std::equal(piece.begin(), piece.end(), again.begin() + 1));
      in_frames += piece.size();
    }
    piece.clear();
    demand(in_frames + decoder.counters().dropped_bytes == seen);
  }
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Watched w;
  for (const std::uint8_t b : stream_of(data, size)) {
    w.push(b);
  }
  const std::uint32_t frames = w.decoder.counters().frames;
  std::array<std::uint8_t, frame_max> good{};
  const std::size_t n = encode_frame({.type = FrameType::status}, {}, good);
  for (std::size_t i = 0; i < n; ++i) {
    w.push(good[i]);
  }
  // The first of its zeros may have completed a frame that the input left open.
  demand(w.decoder.counters().frames - frames >= 1);
  return 0;
}
