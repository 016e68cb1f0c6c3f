// What a trip left behind, out of the archive: as lines for people, as CSV, and as a picture.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "proto/peer/snapshot.hpp"

namespace strandproof::host::report {

// Of the trip that a record tells of: its event, or any part of its snapshot. Samples that the jack took for
// an earlier trip are given in ms after this one. Nothing if the archive holds no part of it.
std::optional<proto::TripSnapshot> snapshot_of(const archive::Archive& kept,
                                               const archive::StoredRecord& stored);

// "snapshot of the trip at 70.200 s: ..."
std::string snapshot_line(const wire::Snapshot& part);

// Which samples there are, and why there are no others.
std::string samples_text(const proto::TripSnapshot& shot);

// A detector in words; limit and margin are "" where it only says yes or no.
struct MarginText {
  std::string detector, value{}, limit{}, margin{};
  bool active = false;
};
// Those that are active first.
std::vector<MarginText> margin_texts(const proto::TripSnapshot& shot);
// What a person has to know of the first part; "" for nothing.
std::string head_text(const proto::TripSnapshot& shot);

// The same as lines.
std::vector<std::string> margin_lines(const proto::TripSnapshot& shot);

std::string sample_csv_header();
// origin: as the stressing record calls it.
std::string sample_csv(const proto::TripSnapshot& shot, const archive::StoredRecord& stored,
                       const std::string& origin);

// Pressures and stroke over time as an SVG element, the trip marked; "" without samples.
std::string snapshot_svg(const proto::TripSnapshot& shot);

}  // namespace strandproof::host::report
