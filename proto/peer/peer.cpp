#include "proto/peer/peer.hpp"

#include <algorithm>
#include <functional>
#include <utility>

#include "proto/peer/jobs.hpp"
#include "proto/peer/seal.hpp"

namespace strandproof::proto {
namespace {

enum class Code : std::uint32_t {
#define REFUSAL(number, id, why, remedy) id = number,
#include "proto/catalogue.def"
};

constexpr unsigned restarts_max = 4;       // sessions opened again for one job
constexpr std::size_t body_max = 320;      // of a sealed message
constexpr std::size_t name_max = 23;       // bytes of a name in an instruction or entry
constexpr std::size_t key_name_max = 15;   // bytes of a table key's name
constexpr std::size_t host_name_max = 31;  // bytes
constexpr std::size_t table_max = 960;     // bytes of a signed gauge table

bool is(std::uint32_t code, Code c) {
  return code == static_cast<std::uint32_t>(c);
}

Bytes bytes(const std::string& s) {
  return {reinterpret_cast<const std::uint8_t*>(s.data()), s.size()};
}

bool is_ascii(char c) {
  return c >= ' ' && c <= '~';
}
bool is_name(const std::string& s) {
  return s.size() <= name_max && std::all_of(s.begin(), s.end(), is_ascii);
}

template <class Message>
bool parse(Bytes payload, Message& into) {
  return into.ParseFromArray(payload.data(), static_cast<int>(payload.size()));
}

}  // namespace

Peer::Peer(HostKeys keys, std::uint32_t expected_jack, PeerTiming timing)
    : keys_{std::move(keys)}, expected_jack_{expected_jack}, timing_{timing} {
  require_sodium();
}

Peer::~Peer() = default;

// ---- the byte stream -----------------------------------------------------------------------------------

void Peer::feed(Bytes received_bytes, Milliseconds now) {
  for (const std::uint8_t b : received_bytes) {
    if (decoder_.push(b)) {
      received(decoder_.frame(), now);
    }
  }
}

std::vector<std::uint8_t> Peer::take() {
  return std::exchange(to_send_, {});
}

void Peer::line_lost() {
  decoder_.forget();
  to_send_.clear();
  session_ = 0;
  waiting_ = false;
}

void Peer::poll(Milliseconds now) {
  if (jobs_.empty()) {
    return;
  }
  if (!waiting_) {
    request(now);
    return;
  }
  const Milliseconds patience = identifying_ ? timing_.retry : jobs_.front()->retry(timing_);
  if (now - sent_at_ < patience) {
    return;
  }
  if (attempt_ >= timing_.attempts) {
    session_ = 0;  // whoever answers next is asked again who he is
    finish({.outcome = Outcome::no_answer,
            .code = 0,
            .what = "no answer: check the cable, the port and the jack's supply"});
    return;
  }
  ++attempt_;
  sent_at_ = now;
  if (!identifying_ && sent_type_ != FrameType::sealed) {
    jobs_.front()->silent();
    sent_payload_ = jobs_.front()->request().payload;
  }
  send(sent_type_, sent_payload_);
}

void Peer::request(Milliseconds now) {
  identifying_ = session_ == 0 || jobs_.front()->only_identify();
  if (identifying_) {
    wire::Identify i;
    i.set_protocol_major(protocol_major);
    i.set_protocol_minor(protocol_minor);
    i.set_host_id(keys_.host_id);
    sent_type_ = FrameType::identify;
    sent_payload_ = i.SerializeAsString();
  } else {
    Request r = jobs_.front()->request();
    sent_type_ = r.sealed ? FrameType::sealed : r.type;
    sent_payload_ = r.sealed ? sealed(r, now) : std::move(r.payload);
  }
  waiting_ = true;
  attempt_ = 1;
  sent_at_ = now;
  send(sent_type_, sent_payload_);
}

std::string Peer::sealed(const Request& r, Milliseconds now) {
  sent_counter_ = ++counter_;
  return seal(keys_,
              {.device = identity_->jack_serial(),
               .nonce = bytes(identity_->nonce()),
               .counter = sent_counter_,
               .valid_until_ms = jack_ms(now) + timing_.validity},
              r.type, r.payload);
}

void Peer::send(FrameType type, const std::string& payload) {
  const bool first = type == FrameType::identify;
  std::array<std::uint8_t, frame_max> frame{};
  const std::size_t n = encode_frame({.version = frame_version,
                                      .type = type,
                                      .device = first ? 0 : identity_->jack_serial(),
                                      .session = first ? 0 : session_,
                                      .sequence = sequence_++},
                                     bytes(payload), frame);
  to_send_.insert(to_send_.end(), frame.begin(), frame.begin() + static_cast<std::ptrdiff_t>(n));
}

// ---- what comes back ------------------------------------------------------------------------------------

void Peer::received(const Frame& frame, Milliseconds now) {
  if (frame.header.type == FrameType::identity) {
    adopt(frame, now);
    return;
  }
  wire::Reply reply;
  const bool is_reply = frame.header.type == FrameType::reply && parse(frame.payload, reply);
  if (is_reply && waiting_ && identifying_ && is(reply.code(), Code::other_major)) {
    finish({.outcome = Outcome::other_major, .code = reply.code(), .what = refusal_text(reply.code())});
    return;
  }
  if (session_ == 0 || frame.header.device != identity_->jack_serial()) {
    return;
  }
  if (is_reply && is(reply.code(), Code::other_session) && restarts_ < restarts_max) {
    start_over();  // the jack was off in between, or another host has asked
  } else if (frame.header.session == session_) {
    deliver(frame, now);
  }
}

// Any identity is taken: the jack has one session, and this is it.
void Peer::adopt(const Frame& frame, Milliseconds now) {
  wire::Identity id;
  if (!parse(frame.payload, id) || frame.header.session == 0 || id.nonce().size() != 16) {
    return;
  }
  if (expected_jack_ != 0 && id.jack_serial() != expected_jack_) {
    finish({.outcome = Outcome::wrong_jack,
            .code = 0,
            .what = "jack " + std::to_string(id.jack_serial()) + " answers, not jack " +
                    std::to_string(expected_jack_) + ": check which cable goes where"});
    return;
  }
  session_ = frame.header.session;
  counter_ = 0;
  take_time(id.now_ms(), now);
  identity_ = std::move(id);
  waiting_ = false;
  if (!jobs_.empty() &&
      (jobs_.front()->only_identify() || jobs_.front()->on_session(*this) == Step::finished)) {
    finish(jobs_.front()->result);
  }
}

void Peer::deliver(const Frame& frame, Milliseconds now) {
  if (frame.header.type == FrameType::telemetry) {
    telemetry(frame.payload, now);
    return;
  }
  if (!waiting_ || identifying_ || (sent_type_ == FrameType::sealed && !answers_sealed(frame))) {
    return;
  }
  Job& job = *jobs_.front();
  switch (job.answer(*this, frame.header.type, frame.payload, now)) {
    case Step::ignore:
      return;
    case Step::wait:
      attempt_ = 1;
      sent_at_ = now;
      return;
    case Step::more:
      attempt_ = 1;
      sent_at_ = now;
      send(sent_type_, job.request().payload);
      return;
    case Step::next:
      waiting_ = false;
      return;
    case Step::finished:
      finish(job.result);
      return;
  }
}

void Peer::telemetry(Bytes payload, Milliseconds now) {
  wire::Telemetry t;
  if (!parse(payload, t)) {
    return;
  }
  take_time(t.now_ms(), now);
  if (on_telemetry) {
    on_telemetry(t);
  }
}

// False also where the message must be sealed once more, with the counter and the time of a new session.
bool Peer::answers_sealed(const Frame& frame) {
  wire::Reply reply;
  if (frame.header.type != FrameType::reply || !parse(frame.payload, reply) ||
      (reply.counter() != sent_counter_ && reply.counter() != 0)) {
    return false;
  }
  if ((is(reply.code(), Code::too_late) || is(reply.code(), Code::counter_old)) && restarts_ < restarts_max) {
    start_over();
    return false;
  }
  return true;
}

void Peer::start_over() {
  session_ = 0;
  waiting_ = false;
  ++restarts_;
}

void Peer::finish(const Result& result) {
  if (jobs_.empty()) {
    return;
  }
  const std::unique_ptr<Job> job = std::move(jobs_.front());
  last_result_ = result;
  jobs_.erase(jobs_.begin());
  waiting_ = identifying_ = false;
  restarts_ = 0;
  if (job->done) {
    job->done(last_result_);  // may ask for the next job
  }
}

void Peer::take_time(std::uint64_t jack_now, Milliseconds now) {
  jack_tick_ = jack_now;
  jack_tick_at_ = now;
}

std::uint64_t Peer::jack_ms(Milliseconds now) const {
  return jack_tick_ + (now - jack_tick_at_);
}

// ---- jobs
// ---------------------------------------------------------------------------------------------------

void Peer::add(std::unique_ptr<Job> job, Done done) {
  job->done = std::move(done);
  jobs_.push_back(std::move(job));
}

void Peer::turn_down(const std::string& what, const Done& done) {
  last_result_ = {.outcome = Outcome::bad_request, .code = 0, .what = what};
  if (done) {
    done(last_result_);
  }
}

void Peer::add_sealed(FrameType kind, const std::string& body, bool fits, Done done) {
  if (fits && body.size() <= body_max) {
    add(sealed_job(kind, body), std::move(done));
  } else {
    turn_down("a name is longer than 23 letters or has others than ASCII: change it", done);
  }
}

void Peer::abandon() {
  jobs_.clear();
  waiting_ = identifying_ = false;
  restarts_ = 0;
}

void Peer::identify(Done done) {
  add(identify_job(), std::move(done));
}

void Peer::pair(Done done) {
  HostKeys shown = keys_;
  shown.name.resize(std::min(shown.name.size(), host_name_max));
  std::replace_if(shown.name.begin(), shown.name.end(), std::not_fn(is_ascii), '?');
  add(pair_job(shown), std::move(done));
}

void Peer::set_clock(std::uint64_t utc_s, Done done) {
  wire::ClockSet m;
  m.set_utc_s(utc_s);
  add_sealed(FrameType::clock_set, m.SerializeAsString(), true, std::move(done));
}

void Peer::load_table(std::vector<std::uint8_t> table, std::uint32_t revision, const Signature& signature,
                      Done done) {
  if (!table.empty() && table.size() <= table_max) {
    add(table_job(std::move(table), revision, signature), std::move(done));
  } else {
    turn_down("the table has " + std::to_string(table.size()) + " bytes, 1 to " + std::to_string(table_max) +
                  " fit: use fewer points a column",
              done);
  }
}

void Peer::enrol_table_key(const std::string& name, const Key& key, Done done) {
  if (!name.empty() && name.size() <= key_name_max && is_name(name)) {
    add(table_key_job(name, key), std::move(done));
  } else {
    turn_down("a table key's name has 1 to 15 letters of ASCII: change it", done);
  }
}

void Peer::withdraw_table(const wire::TableWithdraw& m, Done done) {
  add_sealed(FrameType::table_withdraw, m.SerializeAsString(), true, std::move(done));
}

void Peer::undo_table(const wire::TableUndo& m, Done done) {
  add_sealed(FrameType::table_undo, m.SerializeAsString(), true, std::move(done));
}

void Peer::read_tables(Done done) {
  add(tables_job(), std::move(done));
}

void Peer::read_table(std::uint32_t slot, std::uint32_t length, Done done) {
  if (length >= 1 && length <= table_max) {
    add(table_read_job(slot, length), std::move(done));
  } else {
    turn_down("the slot holds no table that could be read", done);
  }
}

void Peer::send_instruction(const wire::PullInstruction& i, Done done) {
  const bool fits = is_name(i.bed_name()) && is_name(i.strand_name());
  add_sealed(FrameType::pull_instruction, i.SerializeAsString(), fits, std::move(done));
}

void Peer::enter(const wire::BedEntry& e, Done done) {
  add_sealed(FrameType::bed_entry, e.SerializeAsString(), is_name(e.by()), std::move(done));
}

void Peer::release_records(std::uint64_t up_to, const CopyName& copy, Done done) {
  wire::RecordRelease m;
  m.set_up_to(up_to);
  m.set_copy(copy.id);
  m.set_name(copy.name);
  add_sealed(FrameType::record_release, m.SerializeAsString(), is_name(copy.name), std::move(done));
}

void Peer::read_status(Done done) {
  add(status_job(), std::move(done));
}

void Peer::set_telemetry(std::uint32_t period_ms, Done done) {
  add(telemetry_job(period_ms), std::move(done));
}

void Peer::fetch_log(std::uint64_t from, std::uint64_t up_to, Done done) {
  add(log_job(from, up_to, log_runs_), std::move(done));
}

}  // namespace strandproof::proto
