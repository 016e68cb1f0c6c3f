#include "host-tool/proof/verify.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <map>

#include "host-tool/proof/epoch_keys.hpp"

namespace strandproof::host::proof {
namespace {

// The record before, as it says itself and as its content says: where only its seal was touched, the next
// record still follows from the second.
struct Place {
  std::uint64_t sequence = 0;
  std::uint32_t epoch = 0;
  bool ends_epoch = false;
  Before stored;
  std::optional<Before> worked_out;
  bool doubtful = false;  // it was named: what it says of its epoch is worth nothing
};

std::string fingerprint(const proto::Key& key) {
  std::string out;
  for (const std::uint8_t b : proto::fingerprint_of(key)) {
    out += fmt::format("{:02x}", b);
  }
  return out;
}

class Walk {
 public:
  Walk(const Question& q, Report& report) : q_{q}, report_{report} {
    public_key_ = q.public_key;
    keys_.give(q.tag_keys);
    if (q.held) {
      public_key_ = public_key_ ? public_key_ : q.held->public_key;
      our_epochs_ = q.held->our_epochs;
    }
    if (our_epochs_ && q.host) {
      keys_.begin(*our_epochs_, paired_secret(q.host->chain_key, q.device, *our_epochs_),
                  last_epoch(*our_epochs_));
    }
  }

  void run(const std::vector<const Record*>& records);
  [[nodiscard]] std::optional<Head> head() const;

 private:
  struct Fit {
    bool link = false;                 // as stored, it follows from the record before
    std::optional<Before> worked_out;  // with the link that it should have
  };

  void one(const Record& r);
  void look_at_held(const Record& r, const Seal& seal);
  [[nodiscard]] bool begins(const Record& r, Seal& seal);
  [[nodiscard]] bool follows(const Record& r, Seal& seal);
  [[nodiscard]] Fit fit(const Record& r, const Seal& seal) const;
  [[nodiscard]] bool tag_good(const Record& r, const Seal& seal, bool link_good);
  void look_at_epoch(const Record& r, const Seal& seal);
  void look_at_checkpoint(const Record& r, const Seal& seal);
  void take_next_key(const Checkpoint& c);
  // Each epoch has a record: the last one that these records can reach.
  [[nodiscard]] std::uint64_t last_epoch(std::uint32_t from) const {
    return std::max(q_.held ? q_.held->epoch : 0U, from) + std::uint64_t{q_.records.size()};
  }
  void say(Kind kind, const Record& r, std::string what) {
    report_.findings.push_back({kind, r.sequence, std::move(what)});
  }

  const Question& q_;
  Report& report_;
  std::optional<Place> before_;
  std::optional<proto::Key> public_key_;
  std::optional<std::uint32_t> our_epochs_;
  // Of the open stretch, what a checkpoint may stand for: a link as stored and as worked out.
  std::map<std::uint64_t, std::array<Link, 2>> links_;
  std::uint64_t signed_up_to_ = 0;
  std::uint64_t first_ = 0;
  EpochKeys keys_;
};

void Walk::run(const std::vector<const Record*>& records) {
  if (q_.held) {
    signed_up_to_ = q_.held->signed_up_to;
    if (!records.empty() && records.front()->sequence > q_.held->sequence) {
      const Head& h = *q_.held;
      before_ = Place{h.sequence, h.epoch, h.ends_epoch, {h.link, h.tag}, {}, false};
      links_[h.sequence] = {h.link, h.link};
    }
  }
  first_ = records.empty() ? 0 : records.front()->sequence;
  for (const Record* r : records) {
    one(*r);
  }
}

void Walk::one(const Record& r) {
  ++report_.records;
  const auto found = seal_of(r.body);
  if (!found) {
    say(Kind::changed, r, "too short for a seal");
    before_.reset();
    return;
  }
  Seal seal = found->seal;
  const std::size_t findings = report_.findings.size();
  const bool known_before = follows(r, seal);
  Fit f;
  if (known_before) {
    f = fit(r, seal);
    if (const proto::Key* key = keys_.of(seal.epoch); key != nullptr) {
      f.worked_out->tag = tag_of(*key, f.worked_out->link);
    }
  }
  const bool link_good = !known_before || f.link;
  const bool tag = tag_good(r, seal, link_good);
  if (findings == report_.findings.size() && (!link_good || !found->whole)) {
    say(Kind::changed, r,
        tag ? "content, number or time are not those that were sealed"
            : "content or seal, or the tag of the record before, are not those that were sealed");
  }
  if (findings == report_.findings.size()) {
    look_at_epoch(r, seal);
    look_at_checkpoint(r, seal);
  }
  look_at_held(r, found->seal);
  links_[r.sequence] = {seal.link, f.worked_out ? f.worked_out->link : seal.link};
  before_ = Place{r.sequence,
                  seal.epoch,
                  is_checkpoint(r.body),
                  {found->seal.link, seal.tag},
                  f.worked_out,
                  findings != report_.findings.size()};
}

// The first record of all that there are. That of a memory is worked out from zeros.
bool Walk::begins(const Record& r, Seal& seal) {
  before_ = Place{};
  Seal from_zero = seal;
  from_zero.gap = 0;
  if (seal.gap == 0 || fit(r, from_zero).link) {
    if (seal.gap != 0) {
      say(Kind::changed, r, "its seal was changed");
    }
    return true;
  }
  before_.reset();
  if (seal.gap >= r.sequence) {
    say(Kind::changed, r, "its seal was changed");
  } else if (report_.records == 1 && !(q_.held && q_.held->sequence == r.sequence)) {
    report_.begins_at = r.sequence;
  }
  return false;
}

// Whether the record before this one is the one that it was sealed behind. A gap that was itself changed is
// put right, so that it is named as a change and not as a record that is missing.
bool Walk::follows(const Record& r, Seal& seal) {
  if (!before_) {
    return begins(r, seal);
  }
  const auto real = static_cast<std::uint32_t>(r.sequence - before_->sequence);
  if (seal.gap == real) {
    return true;
  }
  Seal other = seal;
  other.gap = real;
  if (fit(r, other).link) {
    seal.gap = real;
    say(Kind::changed, r, "its seal was changed");
    return true;
  }
  if (seal.gap == 0) {
    say(Kind::inserted, r, "begins a chain of its own: another memory, or put in from another log");
  } else if (seal.gap < real) {
    say(Kind::missing, r,
        fmt::format(
            "was sealed behind record {}, which is not there: records between {} and {} were taken out",
            r.sequence - seal.gap, before_->sequence, r.sequence));
  } else {
    say(Kind::inserted, r,
        fmt::format("was sealed behind record {} and does not know record {}", r.sequence - seal.gap,
                    before_->sequence));
  }
  return false;
}

Walk::Fit Walk::fit(const Record& r, const Seal& seal) const {
  Fit f;
  const std::uint32_t gap = before_->sequence == 0 ? 0U : seal.gap;
  const auto link_behind = [&](const Before& b) { return link_of(q_.device, r, seal.epoch, gap, b); };
  f.worked_out = Before{link_behind(before_->stored), seal.tag};
  f.link = f.worked_out->link == seal.link;
  if (!f.link && before_->worked_out) {
    const Link other = link_behind(*before_->worked_out);
    if (other == seal.link) {
      f = {true, Before{other, seal.tag}};
    }
  }
  return f;
}

// True also where the key is not known. A tag that a later key of the jack has made is named as that.
bool Walk::tag_good(const Record& r, const Seal& seal, bool link_good) {
  const proto::Key* key = keys_.of(seal.epoch);
  if (key == nullptr) {
    ++report_.tags_unknown;
    return true;
  }
  ++report_.tags_checked;
  if (tag_of(*key, seal.link) == seal.tag) {
    return true;
  }
  if (!link_good) {
    return false;
  }
  std::uint32_t e = seal.epoch + 1;
  for (const proto::Key* later = keys_.of(e); later != nullptr; later = keys_.of(++e)) {
    if (tag_of(*later, seal.link) == seal.tag) {
      say(Kind::later_key, r,
          fmt::format("is of epoch {} and was sealed with the key of epoch {}", seal.epoch, e));
      return false;
    }
  }
  say(Kind::tag, r, "its tag is not that of the jack's key: changed, or made by somebody without it");
  return false;
}

void Walk::look_at_epoch(const Record& r, const Seal& seal) {
  if (!before_ || before_->sequence == 0 || before_->doubtful) {
    return;
  }
  const std::uint32_t due = before_->epoch + (before_->ends_epoch ? 1U : 0U);
  if (seal.epoch != due) {
    say(Kind::epoch, r,
        fmt::format("says epoch {} where {} is due: sealed anew, or the jack has lost its key", seal.epoch,
                    due));
  }
}

void Walk::look_at_checkpoint(const Record& r, const Seal& seal) {
  if (!is_checkpoint(r.body)) {
    return;
  }
  const auto c = checkpoint_of(r.body);
  if (!c) {
    say(Kind::checkpoint, r, "no checkpoint of this form");
    return;
  }
  if (c->device != q_.device) {
    say(Kind::other_jack, r, fmt::format("the checkpoint of jack {}", c->device));
    return;
  }
  if (public_key_ && *public_key_ != c->public_key) {
    say(Kind::other_jack, r,
        fmt::format("signed with the key {}; this jack's is {}", fingerprint(c->public_key),
                    fingerprint(*public_key_)));
    return;
  }
  if (!signature_good(*c)) {
    say(Kind::checkpoint, r, "its signature is wrong");
    return;
  }
  const auto covered = links_.find(c->covers);
  const bool here = covered != links_.end();
  const bool due = c->covers >= std::max(first_, signed_up_to_);  // of those before nothing is known here
  if (c->epoch != seal.epoch || (here ? std::ranges::count(covered->second, c->link) == 0 : due)) {
    say(Kind::checkpoint, r,
        fmt::format("stands for another record {} than the one that is there", c->covers));
    return;
  }
  public_key_ = c->public_key;
  ++report_.checkpoints;
  if (const proto::Key* key = keys_.of(seal.epoch); key != nullptr) {
    report_.closed_keys[seal.epoch] = *key;
  }
  if (here) {
    signed_up_to_ = c->covers;
    links_.erase(links_.begin(), covered);
  }
  take_next_key(*c);
}

void Walk::take_next_key(const Checkpoint& c) {
  if (c.next_host == 0) {
    return;
  }
  our_epochs_.reset();
  keys_.forget();
  if (q_.host && c.next_host == q_.host->host_id) {
    our_epochs_ = c.epoch + 1;
    keys_.begin(c.epoch + 1, paired_secret(q_.host->chain_key, q_.device, c.epoch + 1),
                last_epoch(c.epoch + 1));
  }
}

void Walk::look_at_held(const Record& r, const Seal& seal) {
  if (q_.held && r.sequence == q_.held->sequence && seal.link != q_.held->link) {
    say(Kind::other_past, r,
        "is not the record that the held head was taken from: this log does not extend it");
  }
}

std::optional<Head> Walk::head() const {
  if (!before_ || before_->sequence == 0) {
    return q_.held;
  }
  return Head{q_.device,           q_.held ? q_.held->first : first_,
              before_->sequence,   before_->epoch,
              before_->ends_epoch, before_->stored.link,
              before_->stored.tag, public_key_,
              signed_up_to_,       our_epochs_};
}

// Says which stand out of order or twice; the rest in the order of their numbers.
std::vector<const Record*> in_order(const std::vector<Record>& records, Report& report) {
  std::vector<const Record*> out;
  std::map<std::uint64_t, const Record*> seen;
  std::uint64_t highest = 0;
  for (const Record& r : records) {
    if (!seen.emplace(r.sequence, &r).second) {
      report.findings.push_back({Kind::doubled, r.sequence, "is there twice"});
    } else if (r.sequence < highest) {
      report.findings.push_back({Kind::order, r.sequence, fmt::format("stands behind record {}", highest)});
    }
    highest = std::max(highest, r.sequence);
  }
  for (const auto& [sequence, record] : seen) {
    out.push_back(record);
  }
  return out;
}

}  // namespace

const char* name_of(Kind kind) {
  switch (kind) {
    case Kind::changed:
      return "changed";
    case Kind::missing:
      return "records missing";
    case Kind::doubled:
      return "doubled";
    case Kind::order:
      return "out of order";
    case Kind::inserted:
      return "put in";
    case Kind::epoch:
      return "wrong epoch";
    case Kind::later_key:
      return "sealed with a later key";
    case Kind::tag:
      return "wrong tag";
    case Kind::checkpoint:
      return "checkpoint wrong";
    case Kind::other_jack:
      return "another jack's checkpoint";
    case Kind::truncated:
      return "log cut off";
    case Kind::other_past:
      return "another past";
  }
  return "";
}

Report verify(const Question& question) {
  proto::require_sodium();
  Report report;
  const auto records = in_order(question.records, report);
  Walk walk{question, report};
  walk.run(records);
  const std::uint64_t last = records.empty() ? 0 : records.back()->sequence;
  if (question.held && last < question.held->sequence) {
    report.findings.push_back(
        {Kind::truncated, last,
         fmt::format("is the last one; the held head says that there are records up to {}",
                     question.held->sequence)});
  }
  if (question.whole && question.held && !records.empty() &&
      records.front()->sequence > question.held->first) {
    report.findings.push_back(
        {Kind::missing, records.front()->sequence,
         fmt::format("is the first one; the log began with record {}", question.held->first)});
  }
  if (report.findings.empty()) {
    report.head = walk.head();
  }
  return report;
}

}  // namespace strandproof::host::proof
