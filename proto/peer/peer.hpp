// The host's end of a session with a jack, without input or output: feed() what was received, send what
// take() gives, call poll() every 10 ms or so. Time is the caller's millisecond clock, real or virtual.
//
// Work is asked for as jobs; they run one at a time, in the order asked. Each sends, waits, sends again and
// ends exactly once, with a Result. A job identifies the jack first where no session is open, so a caller
// may begin with any job. After a pulled cable: line_lost(); the running job goes on when bytes flow again.
//
// Not thread-safe. Throws nothing of its own but std::bad_alloc.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "proto/frame.hpp"
#include "proto/peer/keys.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::proto {

using Milliseconds = std::uint64_t;  // any start, never back

struct PeerTiming {
  Milliseconds retry = 400;          // without an answer the request goes out again
  unsigned attempts = 6;             // in all, before a job ends with no_answer
  Milliseconds validity = 5'000;     // of a sealed message, in the jack's time, from its sending
  Milliseconds pairing = 75'000;     // for the person at the pendant, who has 60 s there
  Milliseconds pairing_ask = 1'000;  // how often the waiting host asks again
};

enum class Outcome : std::uint8_t {
  done,
  refused,      // by the jack; code says why
  no_answer,    // silent, or what came was no frame of this protocol
  other_major,  // answers, but speaks another protocol
  wrong_jack,   // another serial than the one expected
  bad_request,  // not sent: does not fit the protocol's bounds
};

struct Result {
  Outcome outcome = Outcome::no_answer;
  std::uint32_t code = 0;  // REFUSAL number of catalogue.def, where refused
  std::string what;        // one line for a person
  [[nodiscard]] bool ok() const { return outcome == Outcome::done; }
};

// An archive as a jack knows it.
struct CopyName {
  std::uint64_t id = 0;  // not 0
  std::string name;      // 1 to 23 letters of ASCII
};

// What a slot of the jack holds, byte by byte.
struct HeldBytes {
  std::vector<std::uint8_t> bytes;
  Signature signature{};
};

class Job;
struct Request;

class Peer {
 public:
  using Done = std::function<void(const Result&)>;

  // expected_jack 0: talks to whoever answers.
  explicit Peer(HostKeys keys, std::uint32_t expected_jack = 0, PeerTiming timing = {});
  ~Peer();
  Peer(const Peer&) = delete;
  Peer& operator=(const Peer&) = delete;

  // From now on only this jack: work for it never goes to another that was put on the line.
  void expect(std::uint32_t jack) { expected_jack_ = jack; }

  // ---- the byte stream
  void feed(Bytes received, Milliseconds now);
  [[nodiscard]] std::vector<std::uint8_t> take();
  void poll(Milliseconds now);
  void line_lost();  // forgets session and half frames; counts no attempt against the running job

  // ---- jobs
  void identify(Done done = {});  // always opens a new session
  void pair(Done done = {});      // on_check is called with the digits; ends when the person has answered
  void set_clock(std::uint64_t utc_s, Done done = {});
  // table: the signed bytes of a wire::GaugeTable; resumes where an earlier try was cut off.
  void load_table(std::vector<std::uint8_t> table, std::uint32_t revision, const Signature& signature,
                  Done done = {});
  // Asks a person at the pendant to enrol this key; name: 1 to 15 bytes of ASCII. on_key_shown is called once
  // its fingerprint is on the display; ends when the person has answered.
  void enrol_table_key(const std::string& name, const Key& key, Done done = {});
  void withdraw_table(const wire::TableWithdraw& withdraw, Done done = {});
  void undo_table(const wire::TableUndo& undo, Done done = {});
  void read_tables(Done done = {});  // then tables()
  // slot: 1 or 2; length: of its bytes, as tables() says. Then held().
  void read_table(std::uint32_t slot, std::uint32_t length, Done done = {});
  void send_instruction(const wire::PullInstruction& instruction, Done done = {});
  void enter(const wire::BedEntry& entry, Done done = {});
  // The named copy holds every record up to this one, durably.
  void release_records(std::uint64_t up_to, const CopyName& copy, Done done = {});
  void read_status(Done done = {});
  void set_telemetry(std::uint32_t period_ms, Done done = {});  // 0: off, else 20 or more
  // Every record from `from` up to and with `up_to`, or to the newest, through on_record: each once, in
  // order, none left out.
  void fetch_log(std::uint64_t from, std::uint64_t up_to = UINT64_MAX, Done done = {});

  [[nodiscard]] bool busy() const { return !jobs_.empty(); }
  [[nodiscard]] const Result& last_result() const { return last_result_; }
  void abandon();  // drops every job without a Result

  // ---- what is known
  [[nodiscard]] const std::optional<wire::Identity>& identity() const { return identity_; }
  [[nodiscard]] const std::optional<wire::Status>& status() const { return status_; }
  [[nodiscard]] const std::optional<wire::Tables>& tables() const { return tables_; }
  [[nodiscard]] const HeldBytes& held() const { return held_; }
  [[nodiscard]] const FrameDecoder::Counters& counters() const { return decoder_.counters(); }
  // The jack's tick, as far as it is known: behind the true one by the way of its last message.
  [[nodiscard]] std::uint64_t jack_ms(Milliseconds now) const;

  std::function<void(const wire::LogRecord&)> on_record;
  std::function<void(const wire::Telemetry&)> on_telemetry;
  std::function<void(std::uint32_t)> on_check;  // six digits of a pairing, once it is shown at the pendant
  std::function<void()> on_key_shown;
  std::function<void()> on_log_waits;  // an output moves: the jack serves its log when it rests

 private:
  friend class Job;
  void add(std::unique_ptr<Job> job, Done done);
  void turn_down(const std::string& what, const Done& done);
  void add_sealed(FrameType kind, const std::string& body, bool fits, Done done);
  void received(const Frame& frame, Milliseconds now);
  void adopt(const Frame& frame, Milliseconds now);
  void deliver(const Frame& frame, Milliseconds now);
  void request(Milliseconds now);
  [[nodiscard]] std::string sealed(const Request& r, Milliseconds now);
  void send(FrameType type, const std::string& payload);
  void telemetry(Bytes payload, Milliseconds now);
  [[nodiscard]] bool answers_sealed(const Frame& frame);
  void finish(const Result& result);
  void start_over();
  void take_time(std::uint64_t jack_now, Milliseconds now);

  HostKeys keys_;
  std::uint32_t expected_jack_;
  PeerTiming timing_;
  std::array<std::uint8_t, FrameDecoder::buffer_size> buffer_{};
  FrameDecoder decoder_{buffer_};
  std::vector<std::uint8_t> to_send_;
  std::vector<std::unique_ptr<Job>> jobs_;
  Result last_result_;

  std::optional<wire::Identity> identity_;
  std::optional<wire::Status> status_;
  std::optional<wire::Tables> tables_;
  HeldBytes held_;
  std::uint32_t session_ = 0;  // 0: none
  std::uint32_t sequence_ = 0;
  std::uint32_t counter_ = 0;
  std::uint64_t jack_tick_ = 0;
  Milliseconds jack_tick_at_ = 0;

  // Of the request that is on its way.
  bool waiting_ = false;
  bool identifying_ = false;
  FrameType sent_type_ = FrameType::identify;
  std::string sent_payload_;
  std::uint32_t sent_counter_ = 0;  // of a sealed one
  Milliseconds sent_at_ = 0;
  unsigned attempt_ = 0;
  unsigned restarts_ = 0;      // sessions opened again for this job
  std::uint8_t log_runs_ = 0;  // windows of the log, in all
};

}  // namespace strandproof::proto
