#include "sim/board/target_brain.hpp"

#include <algorithm>
#include <array>
#include <utility>

#include "firmware/port/device_block.hpp"
#include "proto/crc32c.hpp"
#include "proto/lockstep.hpp"

namespace strandproof::sim {
namespace {

namespace frame = proto::lockstep;

constexpr std::size_t link_piece_bytes = 2048;  // most that the board takes in one request

void commission(std::span<std::uint8_t> memory, const port::Device& device) {
  std::fill_n(memory.begin(), TargetBrain::flash_bytes, std::uint8_t{0xFF});
  const port::DeviceBlock block = port::encode_device(device);
  const std::uint32_t sum = proto::crc32c(block);
  auto at = std::copy(block.begin(), block.end(), memory.begin() + TargetBrain::device_block_offset);
  for (unsigned i = 0; i < 4; ++i) {
    *at++ = static_cast<std::uint8_t>(sum >> (8U * i));
  }
}

}  // namespace

TargetBrain::TargetBrain(EmulatorOptions options, const port::Device& device) : emulator_{std::move(options)} {
  commission(emulator_.memory(), device);
  emulator_.start();
}

Answer TargetBrain::tick(const port::RawSample& sample) {
  request(sample);
  for (; link_answers_due_ != 0; --link_answers_due_) {
    take_link_answer();
  }
  std::array<std::uint8_t, frame::answer_bytes> bytes;
  take(bytes);
  frame::Answer a;
  if (!frame::decode_answer(bytes, a) || a.tick != static_cast<std::uint16_t>(sample.tick)) {
    throw TargetError("emulated board: the answer to tick " + std::to_string(sample.tick) +
                      " is damaged or of another tick; the image and this program are of different releases");
  }
  take_link_answer();
  return {a.outputs, a.state, a.cause, a.load_state};
}

// One write: the link's bytes if there are any, the sample, and a request for what the link has to say.
void TargetBrain::request(const port::RawSample& s) {
  request_.clear();
  link_answers_due_ = 0;
  std::span<const std::uint8_t> rest{to_link_};
  while (!rest.empty()) {
    const auto piece = rest.first(std::min(rest.size(), link_piece_bytes));
    add_link_request(piece);
    ++link_answers_due_;
    rest = rest.subspan(piece.size());
  }
  to_link_.clear();
  const auto sample = frame::encode_sample(
      {s.tick, s.pressure_a, s.pressure_b, s.stroke, s.load_cell, s.oil_temperature, s.digital});
  request_.insert(request_.end(), sample.begin(), sample.end());
  add_link_request({});
  emulator_.send(request_);
}

void TargetBrain::add_link_request(std::span<const std::uint8_t> bytes) {
  request_.push_back('L');
  request_.push_back(static_cast<std::uint8_t>(bytes.size()));
  request_.push_back(static_cast<std::uint8_t>(bytes.size() >> 8U));
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

void TargetBrain::take_link_answer() {
  std::array<std::uint8_t, frame::link_head_bytes> head;
  take(head);
  if (head[0] != 'l') {
    throw TargetError("emulated board: no link answer where one is due; the image and this program are of "
                      "different releases");
  }
  const std::size_t old = from_link_.size();
  from_link_.resize(old + head[1] + 256U * head[2]);
  take(std::span{from_link_}.subspan(old));
}

void TargetBrain::link_write(std::span<const std::uint8_t> bytes) {
  to_link_.insert(to_link_.end(), bytes.begin(), bytes.end());
}

std::vector<std::uint8_t> TargetBrain::link_read() { return std::exchange(from_link_, {}); }

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

std::string TargetBrain::shut_down() {
  const std::array<std::uint8_t, 1> quit{'Q'};
  emulator_.send(quit);
  if (emulator_.wait_for_exit() != 0) {
    throw TargetError("emulated board: it has left with an error: " + emulator_.printed());
  }
  return emulator_.printed();
}

}  // namespace strandproof::sim
