// A sealed log as the firmware makes it, for the verifier to be shown: the firmware's own chain over a flash
// in memory, a pairing, checkpoints, several boots. Content is invented and not that of any pull.
#pragma once

#include <sodium.h>

#include <algorithm>
#include <memory>
#include <string>
#include <vector>

#include "firmware/record/chained_log.hpp"
#include "host-tool/proof/verify.hpp"
#include "strandproof/wire.pb.h"
#include "tests/record/nasty_flash.hpp"

namespace strandproof::host::proof {

inline constexpr std::uint64_t maker_host = 0x1122334455667788U;

inline proto::Key counting_key(std::uint8_t from) {
  proto::Key k{};
  std::ranges::generate(k, [&from] { return from++; });
  return k;
}

// One jack. Its memory goes on over boot().
class ChainMaker {
 public:
  explicit ChainMaker(std::uint32_t device, std::uint8_t seed = 1)
      : device_{device},
        secret_{counting_key(seed)},
        signer_{counting_key(static_cast<std::uint8_t>(seed + 100))} {
    boot();
  }

  void boot() {
    ++boot_;
    store_ = std::make_unique<record::Store>(flash_, region());
    pages_ = std::make_unique<record::KeyPages>(flash_, 0);
    log_ = std::make_unique<record::ChainedLog>(*store_, *pages_, device_, secret_);
    EXPECT_EQ(store_->mount(), record::Error::none);
    while (store_->service()) {
    }
    log_->mount();
    event(1);
  }
  void event(std::uint32_t code) {
    wire::Record r;
    r.mutable_event()->set_code(code);
    r.mutable_event()->set_force_n(static_cast<std::int32_t>(1000 * tick_));
    r.mutable_event()->set_utc_s(1'800'000'000 + tick_);
    add(r.SerializeAsString());
  }
  void put(const wire::Record& content) { add(content.SerializeAsString()); }
  void pair(const proto::Key& pairing, std::uint64_t host = maker_host) {
    EXPECT_TRUE(log_->take_pairing(host, proto::chain_key(pairing)));
    event(10);
    checkpoint();
  }
  void checkpoint() {
    log_->flush();
    Checkpoint c{.device = device_,
                 .epoch = log_->epoch(),
                 .covers = log_->point().sequence,
                 .link = log_->point().link,
                 .next_host = log_->coming_host(),
                 .utc_s = 1'800'000'000 + tick_,
                 .clock_quality = 1};
    const auto content = signed_content(c, signer_);
    EXPECT_TRUE(log_->end_epoch(bytes(content), {boot_, ++tick_, record::Priority::fault}));
  }
  [[nodiscard]] static std::string signed_content(Checkpoint& c, const proto::TableKey& signer) {
    c.public_key = signer.public_key();
    const std::string text = signed_text(c);
    c.signature = signer.sign(bytes(text));
    wire::Record r;
    wire::Checkpoint& w = *r.mutable_checkpoint();
    w.set_device(c.device);
    w.set_epoch(c.epoch);
    w.set_covers(c.covers);
    w.set_link(c.link.data(), c.link.size());
    w.set_next_host(c.next_host);
    w.set_utc_s(c.utc_s);
    w.set_clock_quality(c.clock_quality);
    w.set_public_key(c.public_key.data(), c.public_key.size());
    w.set_signature(c.signature.data(), c.signature.size());
    return r.SerializeAsString();
  }

  [[nodiscard]] std::vector<Record> records() {
    log_->flush();
    std::vector<Record> out;
    record::RecordHeader header;
    std::array<std::uint8_t, record::record_body_max> body{};
    for (std::uint64_t from = 1;; from = header.sequence + 1) {
      const auto got = store_->read_from(from, header, body);
      if (got.error != record::Error::none) {
        return out;
      }
      out.push_back({header.sequence, header.boot, header.tick, {body.begin(), body.begin() + got.size}});
    }
  }
  [[nodiscard]] std::uint32_t device() const { return device_; }
  [[nodiscard]] const proto::TableKey& signer() const { return signer_; }
  [[nodiscard]] record::ChainedLog& log() { return *log_; }

 private:
  [[nodiscard]] static proto::Bytes bytes(const std::string& s) {
    return {reinterpret_cast<const std::uint8_t*>(s.data()), s.size()};
  }
  [[nodiscard]] record::Region region() const {
    const std::uint32_t keys = record::KeyPages::region_size(flash_);
    return {.base = keys, .size = flash_.size() - keys, .reserve_pages = 1};
  }
  void add(const std::string& content) {
    log_->add(bytes(content), {boot_, ++tick_, record::Priority::routine});
    log_->flush();
  }

  test::NastyFlash flash_{40, 2048, 8};
  std::uint32_t device_;
  proto::Key secret_;
  proto::TableKey signer_;
  std::uint32_t boot_ = 0;
  std::uint64_t tick_ = 0;
  std::unique_ptr<record::Store> store_;
  std::unique_ptr<record::KeyPages> pages_;
  std::unique_ptr<record::ChainedLog> log_;
};

// Two hundred records: a boot, a pairing, then stretches of 12 to 24 records between checkpoints and three
// boots.
inline std::vector<Record> two_hundred(ChainMaker& jack) {
  for (int i = 0; i < 3; ++i) {
    jack.event(2);
  }
  jack.pair(counting_key(7));
  std::uint32_t n = 0;
  while (jack.records().size() < 199) {
    ++n;
    jack.event(3 + n % 5);
    if (n % 18 == 0) {
      jack.checkpoint();
    }
    if (n % 60 == 0) {
      jack.boot();
    }
  }
  jack.event(2);
  return jack.records();
}

inline Question question_of(const ChainMaker& jack, std::vector<Record> records, bool with_key = true) {
  Question q;
  q.device = jack.device();
  q.records = std::move(records);
  q.public_key = jack.signer().public_key();
  if (with_key) {
    q.host = HostKey{maker_host, proto::chain_key(counting_key(7))};
  }
  return q;
}

}  // namespace strandproof::host::proof
