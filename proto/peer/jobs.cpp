#include "proto/peer/jobs.hpp"

#include <algorithm>
#include <utility>

namespace strandproof::proto {
namespace {

enum class Code : std::uint32_t {
#define REFUSAL(number, id, why, remedy) id = number,
#include "proto/catalogue.def"
};

// Records that may be on their way: at 921,600 baud some 0.2 s of them, as long as an archive may take for a
// commit. Moved on at each quarter, so that a lost request costs nothing.
constexpr std::uint32_t log_window = 128;
constexpr unsigned losses_max = 40;

template <class Message>
bool parse(Bytes payload, Message& into) {
  return into.ParseFromArray(payload.data(), static_cast<int>(payload.size()));
}

template <class Array>
std::string text(const Array& bytes) {
  return {bytes.begin(), bytes.end()};
}

class IdentifyJob final : public Job {
 public:
  bool only_identify() const override { return true; }
  Request request() const override { return {}; }
  Step answer(Peer&, FrameType, Bytes, Milliseconds) override { return Step::ignore; }
};

class PairJob final : public Job {
 public:
  explicit PairJob(const HostKeys& keys) {
    wire::PairRequest r;
    r.set_host_id(keys.host_id);
    r.set_host_name(keys.name);
    r.set_key(text(keys.key));
    request_ = {.type = FrameType::pair_request, .payload = r.SerializeAsString(), .sealed = false};
  }
  Request request() const override { return request_; }
  Milliseconds retry(const PeerTiming& t) const override { return until_ == 0 ? t.retry : t.pairing_ask; }

  Step answer(Peer& peer, FrameType type, Bytes payload, Milliseconds now) override {
    wire::PairReply reply;
    if (type != FrameType::pair_reply || !parse(payload, reply)) {
      return Step::ignore;
    }
    if (!reply.waiting() && reply.code() != 0) {
      return finish(reply.code());
    }
    const std::uint32_t own =
        check_digits(keys_of(peer), peer.identity()->jack_serial(),
                     {reinterpret_cast<const std::uint8_t*>(peer.identity()->nonce().data()),
                      peer.identity()->nonce().size()});
    if (reply.check() != own) {
      return fail(Outcome::refused,
                  "the jack shows other digits: somebody else's key is in the cable; do not confirm");
    }
    return reply.waiting() ? wait_for_the_person(peer, own, now) : finish(0);
  }

 private:
  Step wait_for_the_person(Peer& peer, std::uint32_t digits, Milliseconds now) {
    if (until_ == 0) {
      until_ = now + timing_of(peer).pairing;
    }
    if (digits != shown_ && peer.on_check) {
      peer.on_check(digits);
    }
    shown_ = digits;
    return now < until_ ? Step::wait : finish(static_cast<std::uint32_t>(Code::pairing_lapsed));
  }

  Request request_;
  Milliseconds until_ = 0;
  std::uint32_t shown_ = 0;
};

// One sealed message, answered by one reply.
class SealedJob final : public Job {
 public:
  SealedJob(FrameType kind, std::string body)
      : request_{.type = kind, .payload = std::move(body), .sealed = true} {}
  Request request() const override { return request_; }
  Step answer(Peer&, FrameType type, Bytes payload, Milliseconds) override {
    wire::Reply reply;
    return type == FrameType::reply && parse(payload, reply) ? finish(reply.code()) : Step::ignore;
  }

 private:
  Request request_;
};

class TableJob final : public Job {
 public:
  TableJob(std::vector<std::uint8_t> table, std::uint32_t revision, const Signature& signature)
      : table_{std::move(table)}, revision_{revision}, signature_{signature} {}

  Request request() const override {
    if (!begun_) {
      wire::TableBegin b;
      b.set_revision(revision_);
      b.set_length(static_cast<std::uint32_t>(table_.size()));
      b.set_sha256(text(sha256(table_)));
      return {.type = FrameType::table_begin, .payload = b.SerializeAsString(), .sealed = true};
    }
    if (next_ < chunks()) {
      const std::size_t from = next_ * table_chunk;
      wire::TableChunk c;
      c.set_index(next_);
      c.set_data(table_.data() + from, std::min(table_chunk, table_.size() - from));
      return {.type = FrameType::table_chunk, .payload = c.SerializeAsString(), .sealed = true};
    }
    wire::TableCommit c;
    c.set_revision(revision_);
    c.set_signature(text(signature_));
    return {.type = FrameType::table_commit, .payload = c.SerializeAsString(), .sealed = true};
  }

  Step answer(Peer&, FrameType type, Bytes payload, Milliseconds) override {
    wire::Reply reply;
    if (type != FrameType::reply || !parse(payload, reply)) {
      return Step::ignore;
    }
    if (reply.code() != 0 || committing()) {
      return finish(reply.code());
    }
    begun_ = true;
    next_ = std::min(reply.next_chunk(), chunks());
    commit_sent_ = committing();
    return Step::next;
  }

  // The answer to a commit may have been lost with the session: the jack then says which table it holds.
  Step on_session(Peer& peer) override {
    if (commit_sent_ && peer.identity()->table_revision() == revision_) {
      return finish(0);
    }
    begun_ = false;
    next_ = 0;
    return Step::next;
  }

 private:
  std::uint32_t chunks() const {
    return static_cast<std::uint32_t>((table_.size() + table_chunk - 1) / table_chunk);
  }
  bool committing() const { return begun_ && next_ == chunks(); }

  std::vector<std::uint8_t> table_;
  std::uint32_t revision_;
  Signature signature_;
  bool begun_ = false;
  bool commit_sent_ = false;
  std::uint32_t next_ = 0;
};

class StatusJob final : public Job {
 public:
  Request request() const override { return {.type = FrameType::status_get, .payload = {}, .sealed = false}; }
  Step answer(Peer& peer, FrameType type, Bytes payload, Milliseconds now) override {
    wire::Status status;
    if (type != FrameType::status || !parse(payload, status)) {
      return Step::ignore;
    }
    keep_status(peer, std::move(status), now);
    return finish(0);
  }
};

class TelemetryJob final : public Job {
 public:
  explicit TelemetryJob(std::uint32_t period_ms) { set_.set_period_ms(period_ms); }
  Request request() const override {
    return {.type = FrameType::telemetry_set, .payload = set_.SerializeAsString(), .sealed = false};
  }
  Step answer(Peer&, FrameType type, Bytes payload, Milliseconds) override {
    wire::Reply reply;
    return type == FrameType::reply && parse(payload, reply) ? finish(reply.code()) : Step::ignore;
  }

 private:
  wire::TelemetrySet set_;
};

// The jack sends on through a window that is moved on before it ends, so that the line is never idle. What
// comes is taken only if it is the first record at or after the one wanted: no lost, doubled, swapped or late
// frame can leave a record out or bring one twice. Behind a lost one the job goes back to it, in a new run:
// what is still on its way belongs to the run before.
class LogJob final : public Job {
 public:
  LogJob(std::uint64_t from, std::uint64_t up_to, std::uint8_t& runs)
      : next_{from}, moved_on_{from}, up_to_{up_to}, runs_{runs}, run_{++runs} {}

  Request request() const override {
    wire::LogGet get;
    get.set_from(next_);
    get.set_count(log_window);
    get.set_run(run_);
    return {.type = FrameType::log_get, .payload = get.SerializeAsString(), .sealed = false};
  }

  Step answer(Peer& peer, FrameType type, Bytes payload, Milliseconds) override {
    if (type == FrameType::log_record) {
      return record(peer, payload);
    }
    wire::Reply reply;
    if (type != FrameType::reply || !parse(payload, reply) || reply.code() == 0) {
      return Step::ignore;
    }
    if (reply.code() != static_cast<std::uint32_t>(Code::busy)) {
      return finish(reply.code());
    }
    if (peer.on_log_waits) {
      peer.on_log_waits();
    }
    return Step::wait;  // asked again after the time: a pull does not end a fetch
  }

  void silent() override { go_back(); }
  Step on_session(Peer&) override {
    go_back();
    return Step::next;
  }

 private:
  void go_back() {
    run_ = ++runs_;
    moved_on_ = next_;
  }

  Step record(Peer& peer, Bytes payload) {
    wire::LogRecord r;
    if (!parse(payload, r) || r.run() != run_ || r.from() < next_) {
      return Step::ignore;
    }
    if (r.from() > next_) {
      return lost();
    }
    if (r.sequence() == 0 || r.sequence() > up_to_) {
      return finish(0);  // nothing at or after next_, or nothing that is wanted
    }
    if (r.sequence() < next_) {
      return Step::ignore;  // no jack says so
    }
    losses_ = 0;
    if (peer.on_record) {
      peer.on_record(r);
    }
    next_ = r.sequence() + 1;
    return r.sequence() == up_to_ ? finish(0) : move_on();
  }

  Step lost() {
    if (++losses_ > losses_max) {
      return fail(Outcome::no_answer,
                  "the line damages the same record again and again: check cable and speed");
    }
    go_back();
    return Step::more;
  }

  Step move_on() {
    if (next_ - moved_on_ < log_window / 4) {
      return Step::wait;
    }
    moved_on_ = next_;
    return Step::more;
  }

  std::uint64_t next_, moved_on_;
  std::uint64_t up_to_;
  std::uint8_t& runs_;
  std::uint8_t run_;
  unsigned losses_ = 0;  // in a row
};

}  // namespace

Step Job::finish(std::uint32_t code) {
  if (code != 0) {
    result = {.outcome = Outcome::refused, .code = code, .what = refusal_text(code)};
  }
  return Step::finished;
}

Step Job::fail(Outcome outcome, std::string what) {
  result = {.outcome = outcome, .code = 0, .what = std::move(what)};
  return Step::finished;
}

void Job::keep_tables(Peer& peer, wire::Tables tables) {
  peer.tables_ = std::move(tables);
}

void Job::keep_held(Peer& peer, HeldBytes held) {
  peer.held_ = std::move(held);
}

void Job::keep_status(Peer& peer, wire::Status status, Milliseconds now) {
  peer.take_time(status.now_ms(), now);
  peer.status_ = std::move(status);
}

std::string refusal_text(std::uint32_t code) {
  switch (code) {
#define REFUSAL(number, id, why, remedy) \
  case number:                           \
    return std::string{why} + ": " + remedy;
#include "proto/catalogue.def"
    default:
      return "refused with code " + std::to_string(code) + ": use a host tool as new as the jack";
  }
}

std::unique_ptr<Job> identify_job() {
  return std::make_unique<IdentifyJob>();
}
std::unique_ptr<Job> pair_job(const HostKeys& keys) {
  return std::make_unique<PairJob>(keys);
}
std::unique_ptr<Job> sealed_job(FrameType kind, std::string body) {
  return std::make_unique<SealedJob>(kind, std::move(body));
}
std::unique_ptr<Job> table_job(std::vector<std::uint8_t> table, std::uint32_t revision,
                               const Signature& signature) {
  return std::make_unique<TableJob>(std::move(table), revision, signature);
}
std::unique_ptr<Job> status_job() {
  return std::make_unique<StatusJob>();
}
std::unique_ptr<Job> telemetry_job(std::uint32_t period_ms) {
  return std::make_unique<TelemetryJob>(period_ms);
}
std::unique_ptr<Job> log_job(std::uint64_t from, std::uint64_t up_to, std::uint8_t& runs) {
  return std::make_unique<LogJob>(from, up_to, runs);
}

}  // namespace strandproof::proto
