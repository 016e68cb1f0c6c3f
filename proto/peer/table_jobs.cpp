// Jobs about table keys and the two slots of the jack.
#include <algorithm>
#include <utility>

#include "proto/peer/jobs.hpp"

namespace strandproof::proto {
namespace {

enum class Code : std::uint32_t {
#define REFUSAL(number, id, why, remedy) id = number,
#include "proto/catalogue.def"
};

template <class Message>
bool parse(Bytes payload, Message& into) {
  return into.ParseFromArray(payload.data(), static_cast<int>(payload.size()));
}

class TableKeyJob final : public Job {
 public:
  TableKeyJob(const std::string& name, const Key& key) {
    wire::TableKeyRequest r;
    r.set_name(name);
    r.set_key(key.data(), key.size());
    request_ = {.type = FrameType::table_key_request, .payload = r.SerializeAsString(), .sealed = false};
    const Fingerprint own = fingerprint_of(key);
    fingerprint_.assign(own.begin(), own.end());
  }
  Request request() const override { return request_; }
  Milliseconds retry(const PeerTiming& t) const override { return until_ == 0 ? t.retry : t.pairing_ask; }

  Step answer(Peer& peer, FrameType type, Bytes payload, Milliseconds now) override {
    wire::TableKeyReply reply;
    if (type != FrameType::table_key_reply || !parse(payload, reply)) {
      return Step::ignore;
    }
    if (!reply.waiting() && reply.code() != 0) {
      return finish(reply.code());
    }
    if (reply.fingerprint() != fingerprint_) {
      return fail(Outcome::refused,
                  "the jack shows another key: something changed it on the way; refuse it there");
    }
    return reply.waiting() ? wait_for_the_person(peer, now) : finish(0);
  }

 private:
  Step wait_for_the_person(Peer& peer, Milliseconds now) {
    if (until_ == 0) {
      until_ = now + timing_of(peer).pairing;
      if (peer.on_key_shown) {
        peer.on_key_shown();
      }
    }
    return now < until_ ? Step::wait : finish(static_cast<std::uint32_t>(Code::key_lapsed));
  }

  Request request_;
  std::string fingerprint_;
  Milliseconds until_ = 0;
};

class TablesJob final : public Job {
 public:
  Request request() const override { return {.type = FrameType::tables_get, .payload = {}, .sealed = false}; }
  Step answer(Peer& peer, FrameType type, Bytes payload, Milliseconds) override {
    wire::Tables tables;
    wire::Reply reply;
    if (type == FrameType::tables && parse(payload, tables)) {
      keep_tables(peer, std::move(tables));
      return finish(0);
    }
    return type == FrameType::reply && parse(payload, reply) && reply.code() != 0 ? finish(reply.code())
                                                                                  : Step::ignore;
  }
};

class TableReadJob final : public Job {
 public:
  TableReadJob(std::uint32_t slot, std::size_t length) : slot_{slot}, length_{length} {}

  Request request() const override {
    wire::TableRead r;
    r.set_slot(slot_);
    r.set_index(static_cast<std::uint32_t>(held_.bytes.size() / table_chunk));
    return {.type = FrameType::table_read, .payload = r.SerializeAsString(), .sealed = false};
  }

  Step answer(Peer& peer, FrameType type, Bytes payload, Milliseconds) override {
    wire::TableBytes b;
    wire::Reply reply;
    if (type == FrameType::reply && parse(payload, reply) && reply.code() != 0) {
      return finish(reply.code());
    }
    if (type != FrameType::table_bytes || !parse(payload, b) || b.slot() != slot_ ||
        b.index() != held_.bytes.size() / table_chunk) {
      return Step::ignore;
    }
    const std::size_t wanted = std::min(table_chunk, length_ - held_.bytes.size());
    if (b.data().size() != wanted || (b.index() == 0 && b.signature().size() != held_.signature.size())) {
      return fail(Outcome::refused, "the table changed while it was read: read it again");
    }
    if (b.index() == 0) {
      std::copy(b.signature().begin(), b.signature().end(), held_.signature.begin());
    }
    held_.bytes.insert(held_.bytes.end(), b.data().begin(), b.data().end());
    if (held_.bytes.size() < length_) {
      return Step::next;
    }
    keep_held(peer, std::move(held_));
    return finish(0);
  }

 private:
  std::uint32_t slot_;
  std::size_t length_;
  HeldBytes held_;
};

}  // namespace

std::unique_ptr<Job> table_key_job(const std::string& name, const Key& key) {
  return std::make_unique<TableKeyJob>(name, key);
}
std::unique_ptr<Job> tables_job() {
  return std::make_unique<TablesJob>();
}
std::unique_ptr<Job> table_read_job(std::uint32_t slot, std::size_t length) {
  return std::make_unique<TableReadJob>(slot, length);
}

}  // namespace strandproof::proto
