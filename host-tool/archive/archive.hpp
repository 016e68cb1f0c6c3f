// What the host keeps for good: records of the jacks, instructions and gauge tables that were sent, and what
// people add. SQLite in a file, or a PostgreSQL by its URL. README.md of this folder has tables and promises.
//
// A record is named by (device, boot, sequence) and is inserted once; meeting it again, its bytes must be the
// same. Nothing is ever updated; the only thing that can be deleted is what retain.hpp allows. Triggers hold
// other programs to that.
//
// The history of a jack's gauge tables is what this host did, with who and why; what the jack itself wrote
// down (part changes, keys enrolled, refusals) is among its records and is not copied.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace strandproof::host::archive {

struct StoredRecord {
  std::uint32_t device;  // serial of the jack
  std::uint32_t boot;
  std::uint64_t sequence;  // rises for ever, across boots
  std::uint64_t tick_ms;
  std::string body;  // the encoded Record, as it lies in the jack's store
};

struct SentInstruction {
  std::uint32_t device;
  std::uint32_t id;  // rises per device
  std::uint32_t bed;
  std::uint32_t position;
  std::string body;               // the encoded PullInstruction
  std::int64_t sent_s;            // UTC
  std::string plan_sha256_hex{};  // of the plan it was worked out from, a Document; "" if not kept
};

struct LoadedTable {
  std::uint32_t device;
  std::uint32_t revision;
  std::string sha256_hex;  // of the bytes that the jack verified
  std::string json;        // the table file
  std::int64_t loaded_s;   // UTC
};

enum class Act : std::uint32_t { loaded = 1, undone = 2, withdrawn = 3, checked = 4 };

// One act on a jack's gauge table.
struct HistoryEntry {
  std::uint32_t device;
  Act act;
  std::int64_t at_s;            // UTC of this computer
  std::string by;               // role, no person's name
  std::string why;              // one line, for people
  std::uint32_t revision;       // of the table that the act was on
  std::string sha256_hex;       // of its signed bytes; "" if not known
  std::string key_fingerprint;  // of the key that signed it, hexadecimal; "" if not known
  std::uint64_t last_record;    // newest record of the jack when it was done; 0: not known
  std::uint32_t outcome;        // checked: check::Verdict; withdrawn: REASON of the catalogue; else 0
  // loaded: key and signature (proof/table_signature.hpp), "" if it was loaded before these were kept;
  // checked: the spot points as JSON; undone: the revision that came back
  std::string details;
};

// A bed's stressing record was signed off.
struct SignOff {
  std::uint32_t bed;
  std::string by;  // role
  std::int64_t at_s;
  std::uint32_t pulls;        // of the bed, when it was signed
  std::uint64_t last_record;  // sequence of the newest of them
  std::string digest_hex;     // SHA-256 over the bodies of these pulls, in their order
};

// What a person enters, chained (entries.hpp).
enum class EntryKind : std::uint32_t {
  remark = 1,
  disposition = 2,
  sign_off = 3,
  minimum_age = 4,
  deletion = 5,
  enrolment = 6  // a jack's controller was replaced: the fingerprints of old and new in words
};
// A disposition's outcome: what the responsible engineer decided on a strand.
enum class Decision : std::uint64_t { accepted = 1, replaced = 2, rejected = 3 };

struct Entry {
  std::uint64_t number = 0;  // from 1, without gaps
  EntryKind kind = EntryKind::remark;
  std::int64_t at_s = 0;       // UTC of this computer
  std::string by{};            // role, no person's name
  std::uint32_t device = 0;    // jack; 0: of none
  std::uint32_t bed = 0;       // 0: of none
  std::uint64_t sequence = 0;  // record of the jack it is about; a sign-off's newest; 0: of none
  // disposition: Decision; sign_off: pulls; minimum_age: days; deletion: records
  std::uint64_t outcome = 0;
  std::string records_digest_hex{};  // sign_off and deletion: SHA-256 over the bodies in their order
  std::string words{};               // one line, for people
  std::string content_hex{}, previous_hex{}, digest_hex{};  // given when it is entered
  // A bundle holds of another bed's entry its digests alone: the chain goes through it, its words stay here.
  bool withheld = false;
};

// The first fault of a chain from its first entry, as words; "" if there is none. Of a withheld entry the
// digest of its content is taken as it stands.
std::string chain_fault(const std::vector<Entry>& entries);

// A file that a table or an instruction was made of, by its digest.
struct Document {
  std::string sha256_hex;
  std::string name;  // of the file, without its folder
  std::int64_t kept_s;
  std::string text;
};

// What a jack said of itself when a host met it.
struct JackSeen {
  std::uint32_t device;
  std::int64_t at_s;
  std::string build;
  std::uint32_t origin;  // Identity.origin
  std::string protocol;  // "1.4"
  std::uint32_t settings_revision, table_revision, clock_quality;
  bool operator==(const JackSeen&) const = default;
};

// Which records: every member that is given must hold. bed, position, reel, table, verdict and strand belong
// to pulls alone, event to events alone.
struct Filter {
  std::optional<std::uint32_t> device{}, bed{}, position{}, reel{}, table{};
  std::optional<std::uint32_t> verdict{}, event{}, cause{};  // numbers of the catalogue
  std::optional<std::string> strand{};                       // as the stressing record names it
  // As the jack's clock said, until not included. A record without a clock is in no span of time.
  std::optional<std::int64_t> from_s{}, until_s{};
  std::optional<std::uint64_t> first{}, last{};  // sequences
  bool newest_first = false;
  std::size_t limit = 0;  // 0: all
};

// A jack's records that belong to a bed: from after the last pull of another bed to before the next one, so
// with what was done and found around its pulls.
struct Span {
  std::uint32_t device;
  std::uint64_t first, last;  // sequences, both included
};

// One month of one jack.
struct Month {
  int year = 0, month = 0;  // UTC
  std::uint32_t pulls = 0, within_limits = 0, trips = 0;
  std::uint32_t slopes = 0;  // pulls whose stiffness was seen and whose instruction is held
  double slope_mean = 0.0;   // stiffness seen over that of the instruction
  double slope_deviation = 0.0;
};
struct Statistics {
  std::vector<Month> months;
  std::uint32_t pulls = 0, trips = 0, slopes = 0;
  double trips_per_hundred = 0.0;
  // Least squares of the ratio over time: its change per year of 365.25 days and that figure's standard
  // error; 0 and 0 with fewer than three slopes.
  double drift_per_year = 0.0, drift_error = 0.0;
};

// As a jack knows this archive among the copies of its log.
struct Identity {
  std::uint64_t id = 0;  // random, of this archive alone; a backup and what is restored have their own
  std::string name;      // for people; "" until it was given
};

// A pull that reached the span of the slope, and whose instruction is held.
struct SeenSlope {
  std::uint32_t bed, position, reel;
  std::uint64_t sequence;
  std::int64_t utc_s;  // 0: clock not set
  std::int64_t seen_n_per_m, planned_n_per_m;
  std::string instruction;  // the encoded PullInstruction
};
enum class End { oldest, newest };

struct Added {
  int added;
  int already_held;
};

struct Options {
  int busy_timeout_ms = 3000;
  int page_limit = 0;  // 0: none; else PRAGMA max_page_count, a quota (used to show what a full disk does)
  std::function<void(const std::string&)> tell{};  // news for the person: the archive was migrated
};

class Store;

// A place of no file, gone with its Archive: what is looked at and not kept.
inline constexpr const char* in_memory = ":memory:";

// Every member throws Problem (fault) with the archive's name, what is wrong and the remedy when the archive
// is in use by another program, full, read-only, not an archive, or of a newer schema; then nothing has been
// changed. An archive of an older schema is copied to a file beside it and then brought to this one.
// A PostgreSQL whose server would confirm what is not on its disk is refused.
class Archive {
 public:
  // A file, made with its folder if it is not there, or postgresql://...
  explicit Archive(const std::string& place, const Options& options = {});
  ~Archive();
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  // All in one transaction, which is on the disk when this returns. Throws Problem (refused) if a record is
  // held under the same name with other bytes: that is another jack's memory or a damaged one.
  Added add(std::span<const StoredRecord> records);

  // Highest sequence held of a device, or held until it was deleted after the minimum age; 0: none.
  [[nodiscard]] std::uint64_t last_sequence(std::uint32_t device) const;
  [[nodiscard]] std::uint64_t count() const;

  // By device and sequence; of one device or of all.
  [[nodiscard]] std::vector<StoredRecord> records(std::optional<std::uint32_t> device = {}) const;
  [[nodiscard]] std::vector<StoredRecord> find(const Filter& filter) const;
  // The same, one by one: nothing is held but one record.
  void each(const Filter& filter, const std::function<void(const StoredRecord&)>& take) const;

  // Of every jack that pulled the bed, by serial.
  [[nodiscard]] std::vector<Span> spans(std::uint32_t bed) const;

  // Pulls and trips of one jack in [from_s, until_s), by its clock.
  [[nodiscard]] Statistics statistics(std::uint32_t device, std::int64_t from_s, std::int64_t until_s) const;

  // Of a device's pulls on a table, those whose slope was seen and whose instruction is held: how many, and
  // so many from one end, in the order in which they were made.
  [[nodiscard]] std::uint64_t count_slopes(std::uint32_t device, std::uint32_t revision) const;
  [[nodiscard]] std::vector<SeenSlope> slopes(std::uint32_t device, std::uint32_t revision, End end,
                                              std::size_t limit) const;

  // The newest record up to `last` that was made before at_s: an event or a pull whose clock says so, and
  // none before it says otherwise. 0: none is known to be; nothing: there is no record up to `last`.
  [[nodiscard]] std::optional<std::uint64_t> made_before(std::uint32_t device, std::uint64_t last,
                                                         std::int64_t at_s) const;

  // One more than the highest instruction ever sent to the device; from 1.
  [[nodiscard]] std::uint32_t next_instruction_id(std::uint32_t device) const;
  void add(const SentInstruction& instruction);
  [[nodiscard]] std::vector<SentInstruction> instructions(std::uint32_t bed) const;
  [[nodiscard]] std::optional<SentInstruction> instruction(std::uint32_t device, std::uint32_t id) const;

  [[nodiscard]] std::optional<LoadedTable> table(std::uint32_t device, std::uint32_t revision) const;

  // A table that was loaded, with its entry: both or neither. A table that is held already must have the same
  // digest, or Problem (refused).
  void add(const LoadedTable& table, const HistoryEntry& entry);
  void add(const HistoryEntry& entry);
  // In the order in which they were entered.
  [[nodiscard]] std::vector<HistoryEntry> history(std::uint32_t device) const;
  // Jacks that the archive holds anything of, by serial.
  [[nodiscard]] std::vector<std::uint32_t> devices() const;

  void add(const SignOff& sign_off);
  [[nodiscard]] std::vector<SignOff> sign_offs(std::uint32_t bed) const;

  // Returns it with its number and digests.
  Entry add(const Entry& entry);
  // In their order; of one bed, or all, which alone are a chain.
  [[nodiscard]] std::vector<Entry> entries(std::optional<std::uint32_t> bed = {}) const;

  // Kept once; its digest is worked out here and returned.
  std::string keep(const std::string& name, const std::string& text, std::int64_t at_s);
  [[nodiscard]] std::optional<Document> document(const std::string& sha256_hex) const;

  // Kept only where it differs from the last of this jack.
  void add(const JackSeen& seen);
  [[nodiscard]] std::vector<JackSeen> seen(std::uint32_t device) const;

  [[nodiscard]] Identity identity() const;
  // 1 to 23 letters of ASCII, or Problem (fault).
  void rename(const std::string& name);

  // As a person may see where it is.
  [[nodiscard]] const std::string& shown_place() const;
  // Throws Problem (fault) where the file under its name is no longer the one that was opened: what is
  // entered into that one is gone when the program ends. Asked before each transaction, and by who
  // acknowledges.
  void demand_in_place() const;

  [[nodiscard]] Store& store() const { return *store_; }  // for the files of this folder

 private:
  std::unique_ptr<Store> store_;
};

}  // namespace strandproof::host::archive
