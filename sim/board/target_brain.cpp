#include "sim/board/target_brain.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <utility>

#include "firmware/port/device_block.hpp"
#include "proto/crc32c.hpp"
#include "proto/lockstep.hpp"

namespace strandproof::sim {
namespace {

namespace frame = proto::lockstep;

constexpr std::size_t link_head_size = 3;  // kind and length

void commission(std::span<std::uint8_t> memory, const port::Device& device) {
  std::fill_n(memory.begin(), TargetBrain::flash_bytes, std::uint8_t{0xFF});
  const port::DeviceBlock block = port::encode_device(device);
  const auto stored = memory.subspan(TargetBrain::device_block_offset);
  std::copy(block.begin(), block.end(), stored.begin());
  proto::put_u32(proto::crc32c(block), &stored[block.size()]);
}

}  // namespace

TargetBrain::TargetBrain(EmulatorOptions options, const port::Device& device)
    : emulator_{std::move(options)} {
  commission(emulator_.memory(), device);
  emulator_.start();
}

Answer TargetBrain::tick(const port::RawSample& sample) {
  const std::size_t pieces = request(sample);
  for (std::size_t i = 0; i < pieces; ++i) {
    (void)take_link_answer();
  }
  std::array<std::uint8_t, frame::answer_size> bytes;
  take(bytes);
  frame::Answer a;
  if (!frame::decode(bytes, a) || a.tick != static_cast<std::uint16_t>(sample.tick)) {
    throw TargetError("emulated board: the answer to tick " + std::to_string(sample.tick) +
                      " is damaged or of another tick; the image and this program are of different releases");
  }
  while (take_link_answer() == frame::link_bytes_max) {  // there may be more
    request_.clear();
    add_link_request({});
    emulator_.send(request_);
  }
  return {a.outputs, a.state, a.cause, a.load_state};
}

// One write: the link's bytes if there are any, the sample, and a request for what the link has to say.
// Returns how many pieces of link bytes stand before the sample.
std::size_t TargetBrain::request(const port::RawSample& s) {
  request_.clear();
  std::size_t pieces = 0;
  for (std::span<const std::uint8_t> rest{to_link_}; !rest.empty(); ++pieces) {
    const auto piece = rest.first(std::min(rest.size(), frame::link_bytes_max));
    add_link_request(piece);
    rest = rest.subspan(piece.size());
  }
  to_link_.clear();
  std::array<std::uint8_t, frame::sample_size> bytes;
  frame::encode({s.tick, {s.pressure_a, s.pressure_b, s.stroke, s.load_cell, s.oil_temperature}, s.digital},
                bytes);
  request_.push_back(frame::kind_sample);
  request_.insert(request_.end(), bytes.begin(), bytes.end());
  add_link_request({});
  emulator_.send(request_);
  return pieces;
}

void TargetBrain::add_link_request(std::span<const std::uint8_t> bytes) {
  std::array<std::uint8_t, link_head_size> head{frame::kind_link};
  proto::put_u16(static_cast<std::uint16_t>(bytes.size()), &head[1]);
  request_.insert(request_.end(), head.begin(), head.end());
  request_.insert(request_.end(), bytes.begin(), bytes.end());
}

void TargetBrain::take(std::span<std::uint8_t> into) {
  for (std::uint8_t& byte : into) {
    if (inbox_out_ == inbox_in_) {
      inbox_out_ = 0;
      inbox_in_ = emulator_.receive(inbox_);
    }
    byte = inbox_[inbox_out_++];
  }
}

// How many bytes the board's link had to say.
std::size_t TargetBrain::take_link_answer() {
  std::array<std::uint8_t, link_head_size> head;
  take(head);
  if (head[0] != frame::kind_sent) {
    throw TargetError(
        "emulated board: no link answer where one is due; the image and this program are of "
        "different releases");
  }
  const std::size_t old = from_link_.size();
  const std::size_t n = proto::get_u16(&head[1]);
  from_link_.resize(old + n);
  take(std::span{from_link_}.subspan(old));
  return n;
}

void TargetBrain::link_write(std::span<const std::uint8_t> bytes) {
  to_link_.insert(to_link_.end(), bytes.begin(), bytes.end());
}

std::vector<std::uint8_t> TargetBrain::link_read() {
  return std::exchange(from_link_, {});
}

std::vector<std::uint8_t> TargetBrain::flash_image() {
  const auto flash = emulator_.memory().first(flash_bytes);
  return {flash.begin(), flash.end()};
}

void TargetBrain::power_cycle() {
  emulator_.cut_power();
  to_link_.clear();
  from_link_.clear();
  inbox_in_ = inbox_out_ = 0;
  emulator_.start();
}

BoardReport TargetBrain::shut_down() {
  const std::array<std::uint8_t, 1> quit{frame::kind_quit};
  emulator_.send(quit);
  if (emulator_.wait_for_exit() != 0) {
    throw TargetError("emulated board: it has left with an error: " + emulator_.printed());
  }
  BoardReport r;
  const std::string words = emulator_.printed();
  if (std::sscanf(words.c_str(),
                  "strandproof board: stack %u of %u bytes, longest tick at rest %u and moving %u",
                  &r.stack_used, &r.stack_size, &r.longest_tick_at_rest, &r.longest_tick_moving) != 4) {
    throw TargetError("emulated board: its last words are not a report: " + words);
  }
  return r;
}

}  // namespace strandproof::sim
