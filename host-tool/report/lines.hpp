// Records of the jack, and what people entered, as single lines for people, the same in commands and on
// paper.
#pragma once

#include <string>

#include "host-tool/archive/archive.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::report {

// "hazard row tripped: STRAND BREAK (drop 1647 counts, limit 250 counts); KEEP CLEAR, ..."
std::string event_line(const wire::EventRecord& event);

// Of a pull in several strokes: how many, and each but the last.
std::string strokes_line(const wire::PullRecord& p);
// Verdict, forces and movements of a pull.
std::string pull_line(const wire::PullRecord& pull);

// Of an encoded Record; says so if it can not be read.
std::string record_line(const std::string& body);

// What was decided on a strand, from archive::Decision 1 on.
inline constexpr const char* decision_words[] = {"accepted", "replaced", "rejected"};

// Without number and digests.
std::string entry_line(const archive::Entry& entry);

}  // namespace strandproof::host::report
