// What a Peer can be asked to do, one class a job. A job says what to send next and what an answer means;
// sending again, sessions and sealing are the Peer's.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "proto/peer/peer.hpp"

namespace strandproof::proto {

inline constexpr std::size_t table_chunk = 160;  // bytes of a table chunk, fixed by SPEC.md

struct Request {
  FrameType type = FrameType::status_get;  // or, where sealed, the kind of the body
  std::string payload;
  bool sealed = false;
};

enum class Step : std::uint8_t {
  ignore,    // not an answer to this request
  wait,      // progress; more is to come without another request
  more,      // progress; more is to come, and the next request goes out at once
  next,      // ask for the next request
  finished,  // see Job::result
};

class Job {
 public:
  Job() = default;
  Job(const Job&) = delete;
  Job& operator=(const Job&) = delete;
  virtual ~Job() = default;

  [[nodiscard]] virtual bool only_identify() const { return false; }
  [[nodiscard]] virtual Request request() const = 0;
  [[nodiscard]] virtual Step answer(Peer& peer, FrameType type, Bytes payload, Milliseconds now) = 0;
  // No answer within the time: the request is asked for anew and sent again. A sealed one is not: the same
  // bytes go out, for one that was applied is then only answered.
  virtual void silent() {}
  // A new session was opened while this job was at work.
  [[nodiscard]] virtual Step on_session(Peer&) { return Step::next; }
  [[nodiscard]] virtual Milliseconds retry(const PeerTiming& t) const { return t.retry; }

  Peer::Done done;
  Result result{.outcome = Outcome::done, .code = 0, .what = "done"};

 protected:
  Step finish(std::uint32_t code);
  Step fail(Outcome outcome, std::string what);
  static const HostKeys& keys_of(const Peer& peer) { return peer.keys_; }
  static const PeerTiming& timing_of(const Peer& peer) { return peer.timing_; }
  static void keep_tables(Peer& peer, wire::Tables tables);
  static void keep_held(Peer& peer, HeldBytes held);
  static void keep_status(Peer& peer, wire::Status status, Milliseconds now);
};

// "WHY: remedy" of a refusal code of the catalogue.
[[nodiscard]] std::string refusal_text(std::uint32_t code);

[[nodiscard]] std::unique_ptr<Job> identify_job();
[[nodiscard]] std::unique_ptr<Job> pair_job(const HostKeys& keys);
[[nodiscard]] std::unique_ptr<Job> sealed_job(FrameType kind, std::string body);
[[nodiscard]] std::unique_ptr<Job> table_job(std::vector<std::uint8_t> table, std::uint32_t revision,
                                             const Signature& signature);
[[nodiscard]] std::unique_ptr<Job> table_key_job(const std::string& name, const Key& key);
[[nodiscard]] std::unique_ptr<Job> tables_job();
// length: of the signed bytes, as Tables says it.
[[nodiscard]] std::unique_ptr<Job> table_read_job(std::uint32_t slot, std::size_t length);
[[nodiscard]] std::unique_ptr<Job> status_job();
[[nodiscard]] std::unique_ptr<Job> telemetry_job(std::uint32_t period_ms);
// runs: numbers the windows of all such jobs of a peer.
[[nodiscard]] std::unique_ptr<Job> log_job(std::uint64_t from, std::uint64_t up_to, std::uint8_t& runs);

}  // namespace strandproof::proto
