// Which strands a withdrawn gauge table leaves in doubt. Worked out from the history each time, never stored:
// records that are fetched after the withdrawal are then judged as well.
//
// In doubt is every strand that the jack pulled since the last passed check before the withdrawal, on the
// withdrawn table or on one before it; without a check, every one. A spot check with PASS is such a check,
// and so is a calibration that found the table before it right (same.hpp): each proves what was pulled before
// its first reading. Where the reference cell was found wrong no check counts, for it was made with that
// cell, and every table of the jack is withdrawn with it that does not state another cell; pulls on other
// tables are not reached. One calibration under several revisions (loaded again, fitted again, signed by
// another key) is one table.
#pragma once

#include <cstdint>
#include <set>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::check {

// A withdrawal with the record after which pulls on its table are in doubt.
struct Doubt {
  archive::HistoryEntry withdrawal;
  std::set<std::uint32_t> revisions;  // under which the withdrawn table was loaded
  std::set<std::uint32_t> earlier;    // of tables before it: pulls on them since the last passed check
  std::uint64_t after;                // sequence; 0: from the first
};

// Of every withdrawal of this jack, in their order.
std::vector<Doubt> doubts(const archive::Archive& kept, std::uint32_t device);

// The reason of the withdrawal that reaches this pull, in words; "" if none does.
std::string doubt_about(const std::vector<Doubt>& doubts, std::uint32_t revision, std::uint64_t sequence);

// Why this table file may not be loaded again: the reason for which its calibration was withdrawn; "" if it
// was not.
std::string withdrawn_before(const archive::Archive& kept, std::uint32_t device, const std::string& json);

// What the last spot check entered on this revision leaves to be done.
struct Pending {
  bool withdraw;     // its verdict was WITHDRAW: nothing more is to be pulled on this table
  std::string text;  // one line with the remedy; "" if the check was passed, or there was none
};
Pending pending(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision);

struct DoubtfulPull {
  std::uint32_t device, bed, position, reel, revision, verdict;
  std::string bed_name, strand_name;
  std::uint64_t sequence;
  std::int64_t utc_s;  // 0: clock not set
  std::string reason;
  std::string signed_off;  // "by ROLE at TIME" of the last sign-off that covers it; "" if there is none
};

// Every strand of this jack in doubt, in the order in which they were pulled. A strand that was lowered again
// is left out: nothing of it is in the bed.
std::vector<DoubtfulPull> doubtful_pulls(const archive::Archive& kept, std::uint32_t device);

// failed-check, repair, seal, dropped, reference-cell. Throws Problem (fault) for any other word.
std::uint32_t reason_number(const std::string& word);

}  // namespace strandproof::host::check
