// The C++ codec behind a pipe, for the second implementation to be checked against. One request a line:
//   encode TYPE DEVICE SESSION SEQUENCE PAYLOAD     answers FRAME
//   decode BYTES                                    answers "TYPE DEVICE SESSION SEQUENCE PAYLOAD" for each
//   good
//                                                   frame, then "bad N dropped N"
// Bytes are hexadecimal, "-" for none. Each answer to a request ends with an empty line. A line that is none
// of these ends the program with exit code 2.
#include <array>
#include <charconv>
#include <iostream>
#include <sstream>
#include <string>
#include <vector>

#include "proto/frame.hpp"

namespace {

using namespace strandproof::proto;
using Vector = std::vector<std::uint8_t>;

bool from_hex(const std::string& s, Vector& out) {
  if (s == "-") {
    return true;
  }
  for (std::size_t i = 0; i < s.size(); i += 2) {
    std::uint8_t b = 0;
    const char* end = s.data() + std::min(i + 2, s.size());
    if (std::from_chars(s.data() + i, end, b, 16).ptr != end || i + 1 == s.size()) {
      return false;
    }
    out.push_back(b);
  }
  return true;
}

std::string to_hex(std::span<const std::uint8_t> bytes) {
  static constexpr char digits[] = "0123456789abcdef";
  std::string s;
  for (const std::uint8_t b : bytes) {
    s += digits[b >> 4U];
    s += digits[b & 15U];
  }
  return s.empty() ? "-" : s;
}

bool encode(std::istream& in) {
  unsigned type = 0;
  FrameHeader h;
  std::string hex;
  Vector payload;
  if (!(in >> type >> h.device >> h.session >> h.sequence >> hex) || type > 255 || !from_hex(hex, payload)) {
    return false;
  }
  h.type = static_cast<FrameType>(type);
  std::array<std::uint8_t, frame_max> frame{};
  std::cout << to_hex(std::span{frame}.first(encode_frame(h, payload, frame))) << "\n\n";
  return true;
}

bool decode(std::istream& in) {
  std::string hex;
  Vector bytes;
  if (!(in >> hex) || !from_hex(hex, bytes)) {
    return false;
  }
  std::array<std::uint8_t, FrameDecoder::buffer_size> buffer{};
  FrameDecoder decoder{buffer};
  for (const std::uint8_t b : bytes) {
    if (decoder.push(b)) {
      const Frame& f = decoder.frame();
      std::cout << static_cast<unsigned>(f.header.type) << ' ' << f.header.device << ' ' << f.header.session
                << ' ' << f.header.sequence << ' ' << to_hex(f.payload) << '\n';
    }
  }
  std::cout << "bad " << decoder.counters().bad << " dropped " << decoder.counters().dropped_bytes << "\n\n";
  return true;
}

}  // namespace

int main() {
  for (std::string line; std::getline(std::cin, line);) {
    std::istringstream in{line};
    std::string verb;
    in >> verb;
    if (!(verb == "encode" && encode(in)) && !(verb == "decode" && decode(in))) {
      std::cerr << "frame_tool: not understood: " << line << "; see the head of tests/proto/frame_tool.cpp\n";
      return 2;
    }
    std::cout.flush();
  }
}
