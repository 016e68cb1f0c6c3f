#include "firmware/record/chained_log.hpp"

#include <algorithm>

namespace strandproof::record {
namespace {

// A log that is ahead of its key pages by more epochs than this has lost its key.
constexpr std::uint32_t behind_max = 16;

}  // namespace

// ---- power on

void ChainedLog::mount() {
  const bool some = read_last();
  const std::uint32_t target = some ? seal_.epoch + (last_is_checkpoint_ ? 1U : 0U) : 0U;
  if (!pages_.mount(key_) || (key_.epoch < target && target - key_.epoch > behind_max)) {
    begin_key(target);
  }
  while (key_.epoch < target) {  // at most behind_max
    move_on();
  }
  tag_mac_ = crypto::HmacSha256{tag_key(key_.secret)};
}

// What cannot be read counts as no chain: the next link is then one that the verifier names.
bool ChainedLog::read_last() {
  RecordHeader header;
  auto& body = queue_[0].body;
  if (store_.last() == 0) {
    return false;
  }
  const Fetched last = store_.read(store_.last(), header, body);
  if (last.error != Error::none || !get_seal({body.data(), last.size}, seal_)) {
    return false;
  }
  point_ = {.sequence = header.sequence, .link = seal_.link, .tag = seal_.tag};
  last_is_checkpoint_ = body[0] == checkpoint_mark;
  return true;
}

void ChainedLog::begin_key(std::uint32_t epoch) {
  key_ = {.epoch = epoch, .secret = unpaired_secret(secret_of_jack_, epoch)};
  (void)pages_.store(key_);  // not kept: the same secret is made at the next power on
}

// Once the new secret is in flash the old one is nowhere any more.
void ChainedLog::move_on() {
  const Secret following = key_.has_coming != 0 ? key_.coming : next_secret(key_.secret);
  key_ = {.epoch = key_.epoch + 1, .secret = following};
  (void)pages_.store(key_);  // not kept: done at the next power on, from the old one
  tag_mac_ = crypto::HmacSha256{tag_key(key_.secret)};
}

// ---- writing

void ChainedLog::add(std::span<const std::uint8_t> content, const Stamp& stamp) {
  if (content.size() > content_max) {
    return;
  }
  while (count_ == queue_size) {  // until the append of the oldest one, a bounded number of steps
    (void)step();
  }
  Waiting& w = queue_[(first_ + count_) % queue_size];
  w.size = static_cast<std::uint16_t>(content.size());
  w.stamp = stamp;
  std::copy(content.begin(), content.end(), w.body.begin());
  ++count_;
}

bool ChainedLog::step_on() {
  switch (stage_) {
    case Stage::wait:
      begin_link();
      stage_ = Stage::link;
      break;
    case Stage::link:
      stage_ = job_.step() ? Stage::tag : Stage::link;
      break;
    case Stage::tag:
      seal_.link = job_.link();
      seal_.tag = tag_of(tag_mac_, seal_.link);
      stage_ = Stage::append;
      break;
    case Stage::append:
      append();
      stage_ = Stage::wait;
      break;
  }
  return true;
}

bool ChainedLog::seal_first() {
  const unsigned waiting = count_;
  while (count_ == waiting && step()) {  // a bounded number of steps
  }
  return true;
}

void ChainedLog::begin_link() {
  const Waiting& w = queue_[first_];
  sequence_ = store_.next_sequence();
  seal_.epoch = key_.epoch;
  seal_.gap = point_.sequence == 0 ? 0U : static_cast<std::uint32_t>(sequence_ - point_.sequence);
  job_.begin({.device = device_,
              .sequence = sequence_,
              .boot = w.stamp.boot,
              .tick = w.stamp.tick,
              .epoch = key_.epoch},
             point_, std::span{w.body}.first(w.size));
}

void ChainedLog::append() {
  Waiting& w = queue_[first_];
  put_seal(seal_, std::span<std::uint8_t, seal_size>{w.body.data() + w.size, seal_size});
  const Appended done = store_.append(std::span{w.body}.first(w.size + seal_size), w.stamp.boot, w.stamp.tick,
                                      w.stamp.priority);
  if (done.error == Error::flash && ++tries_ < tries_max) {
    return;  // sealed again from its beginning: the number has changed
  }
  tries_ = 0;
  appended_ = done.error == Error::none;
  if (appended_) {
    point_ = {.sequence = done.sequence, .link = seal_.link, .tag = seal_.tag};
    ++records_of_epoch_;
  }
  first_ = (first_ + 1) % queue_size;
  --count_;
}

bool ChainedLog::end_epoch(std::span<const std::uint8_t> checkpoint, const Stamp& stamp) {
  flush();
  appended_ = false;
  add(checkpoint, stamp);
  flush();
  if (!appended_) {
    return false;
  }
  records_of_epoch_ = 0;
  move_on();
  return true;
}

bool ChainedLog::take_pairing(std::uint64_t host_id, const Secret& chain_key) {
  key_.has_coming = 1;
  key_.coming_host = host_id;
  key_.coming = paired_secret(chain_key, device_, key_.epoch + 1);
  return pages_.store(key_);
}

void ChainedLog::release(std::uint64_t up_to) {
  if (store_.last() > 1) {
    store_.release(std::min(up_to, store_.last() - 1));
  }
}

}  // namespace strandproof::record
