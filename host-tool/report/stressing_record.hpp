// The stressing record of a bed: one HTML page that holds everything it shows and asks for nothing else,
// for the screen and for A4 or Letter paper.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "proto/peer/rows.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::report {

struct PullOfBed {
  archive::StoredRecord stored;
  wire::PullRecord record;
};

// Every pull of the bed in the archive, in the order in which it was made.
std::vector<PullOfBed> pulls_of_bed(const archive::Archive& kept, std::uint32_t bed);

// The last pull of this position was within limits.
bool is_good(const std::vector<PullOfBed>& pulls, std::uint32_t position);

struct Page {
  std::string html{};
  int pulls = 0, positions = 0, good = 0;  // good: positions whose last pull was within limits
  bool simulated = false;
};

// printed_s: UTC, put on the page. heads: a line for each jack, how far its log is held (proof::head_line);
// the paper then holds that head as well. Throws Problem (refused) if the archive holds no pull of the bed.
Page stressing_record(const archive::Archive& kept, std::uint32_t bed, std::int64_t printed_s,
                      const std::vector<std::string>& heads = {});

// The same without the page around it, its style and the time of printing: for a page that holds more than
// this.
Page stressing_sheet(const archive::Archive& kept, std::uint32_t bed, const std::vector<std::string>& heads);

// The force-elongation curve of one pull as an SVG element: limits and plan as lines, the curve's points as
// they were recorded, and every axis with its unit.
std::string curve_svg(const wire::PullRecord& pull, const proto::PullCurve& curve);

}  // namespace strandproof::host::report
