// The log as the app writes to it: each record is sealed over the one before and then appended to the store.
// What may not be done in one tick waits in a queue. See "Tamper evidence" in README.md for the order of
// writing.
//
// A record that a page of the flash refuses is sealed anew under the next number and goes to another page.
// One that the store refuses altogether is left out, as if it had never been: the chain does not move.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <span>

#include "firmware/record/chain.hpp"
#include "firmware/record/key_pages.hpp"
#include "firmware/record/store.hpp"

namespace strandproof::record {

class ChainedLog {
 public:
  static constexpr unsigned queue_size = 8;
  static constexpr unsigned tries_max = 4;  // pages that a record is offered to

  ChainedLog(Store& store, KeyPages& pages, std::uint32_t device,
             std::span<const std::uint8_t, 32> secret_of_jack)
      : store_{store}, pages_{pages}, device_{device} {
    std::copy(secret_of_jack.begin(), secret_of_jack.end(), secret_of_jack_.begin());
  }

  // After the store's mount(): finds the last link and the key of the epoch, and ends what a cut has left
  // undone.
  void mount();

  struct Stamp {
    std::uint32_t boot = 0;
    std::uint64_t tick = 0;
    Priority priority = Priority::routine;
  };
  // Takes a record. Longer than content_max: a bug, and nothing is taken. Where the queue is full the oldest
  // one is sealed and appended first, in this call.
  void add(std::span<const std::uint8_t> content, const Stamp& stamp);
  [[nodiscard]] unsigned waiting() const { return count_; }  // records not yet in the log
  // One bounded step: a piece of a link, a tag, or one append. True if there was something to do.
  [[nodiscard]] bool step() { return count_ != 0 && step_on(); }
  // Steps until the record that waits longest is appended. False: none waited.
  [[nodiscard]] bool seal_one() { return count_ != 0 && seal_first(); }
  void flush() {
    while (step()) {  // each record takes a bounded number of steps, and nothing adds to them meanwhile
    }
  }

  // Appends a checkpoint, behind whatever waits, and ends the epoch. False: the store has refused it; the
  // epoch goes on. Only while nothing moves.
  [[nodiscard]] bool end_epoch(std::span<const std::uint8_t> checkpoint, const Stamp& stamp);
  // The secret of the epochs after this one comes from a pairing. Only while nothing moves. False: not kept.
  [[nodiscard]] bool take_pairing(std::uint64_t host_id, const Secret& chain_key);

  // Up to `up_to`, but never the newest checkpoint nor what follows it: the chain goes on from the last
  // record.
  void release(std::uint64_t up_to);

  [[nodiscard]] const ChainPoint& point() const { return point_; }  // of the last record appended
  [[nodiscard]] std::uint32_t epoch() const { return key_.epoch; }
  [[nodiscard]] std::uint64_t coming_host() const { return key_.has_coming != 0 ? key_.coming_host : 0; }
  [[nodiscard]] std::uint32_t records_of_epoch() const { return records_of_epoch_; }

 private:
  enum class Stage : std::uint8_t { wait, link, tag, append };
  struct Waiting {
    std::uint16_t size = 0;
    Stamp stamp;
    std::array<std::uint8_t, record_body_max> body{};  // content, with room for the seal
  };

  [[nodiscard]] bool step_on();
  [[nodiscard]] bool seal_first();
  [[nodiscard]] bool read_last();
  void begin_key(std::uint32_t epoch);
  void move_on();
  void begin_link();
  void append();

  Store& store_;
  KeyPages& pages_;
  std::uint32_t device_;
  Secret secret_of_jack_{};
  EpochKey key_;
  crypto::HmacSha256 tag_mac_{Secret{}};
  ChainPoint point_;
  std::uint32_t records_of_epoch_ = 0;
  std::array<Waiting, queue_size> queue_{};
  unsigned first_ = 0, count_ = 0;
  Stage stage_ = Stage::wait;
  LinkJob job_;
  Seal seal_;
  std::uint64_t sequence_ = 0;  // of the record that is being sealed
  unsigned tries_ = 0;          // pages that have refused it
  bool appended_ = false;       // the last append succeeded
  bool last_is_checkpoint_ = false;
};

}  // namespace strandproof::record
