#include "firmware/app/checkpointer.hpp"

#include <algorithm>
#include <string_view>

#include "firmware/app/table_slot.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::app {
namespace {

constexpr std::string_view key_label = "strandproof checkpoint key";
constexpr std::string_view label = "strandproof checkpoint";
constexpr std::size_t signed_size = label.size() + 4 + 4 + 8 + 32 + 8 + 8 + 4;
static_assert(signed_size <= crypto::SignJob::message_max);

using Signed = std::array<std::uint8_t, signed_size>;

Signed signed_bytes(const strandproof_wire_Checkpoint& c) {
  Signed bytes{};
  auto* to = std::copy(label.begin(), label.end(), bytes.data());
  proto::put_u32(c.device, to);
  proto::put_u32(c.epoch, to + 4);
  proto::put_u64(c.covers, to + 8);
  std::copy_n(c.link.bytes, 32, to + 16);
  proto::put_u64(c.next_host, to + 48);
  proto::put_u64(c.utc_s, to + 56);
  proto::put_u32(c.clock_quality, to + 64);
  return bytes;
}

}  // namespace

Checkpointer::Checkpointer(record::ChainedLog& log, const port::Device& device) : log_{log} {
  crypto::HmacSha256 mac{device.secret};
  mac.update({reinterpret_cast<const std::uint8_t*>(key_label.data()), key_label.size()});
  mac.finish(seed_);
  checkpoint_.device = device.jack_serial;
}

void Checkpointer::due() {
  job_.drop();
  due_ = true;
}

void Checkpointer::step(const Stamp& stamp, std::uint32_t boot) {
  if (job_.running()) {
    if (job_.step()) {
      finish(stamp, boot);
    }
  } else if (due_ || log_.records_of_epoch() >= records_max) {
    begin(stamp);
  }
}

void Checkpointer::begin(const Stamp& stamp) {
  log_.flush();
  checkpoint_.epoch = log_.epoch();
  checkpoint_.covers = log_.point().sequence;
  put_bytes(log_.point().link, checkpoint_.link);
  checkpoint_.next_host = log_.coming_host();
  checkpoint_.utc_s = stamp.clock.lower_bound(stamp.now);
  checkpoint_.clock_quality = static_cast<std::uint32_t>(stamp.clock.quality());
  job_.begin(seed_, signed_bytes(checkpoint_));
  due_ = false;
}

// A store that refuses it leaves the epoch as it is; the next reason for a checkpoint tries again.
void Checkpointer::finish(const Stamp& stamp, std::uint32_t boot) {
  put_bytes(job_.public_key(), checkpoint_.public_key);
  put_bytes(job_.signature(), checkpoint_.signature);
  RecordBytes bytes;
  const std::size_t size = encode_checkpoint(checkpoint_, bytes);
  (void)log_.end_epoch({bytes.data(), size}, {boot, stamp.now, record::Priority::fault});
}

}  // namespace strandproof::app
