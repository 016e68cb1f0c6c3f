// What the archive knows against the figures of a bed: pulls with their calibration in doubt, force against
// slope that does not fit, and the sign-offs that stand.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "host-tool/check/doubt.hpp"
#include "host-tool/report/pull_sheet.hpp"

namespace strandproof::host::report {

// What stands against the tables of some pulls, by jack: worked out of history and log, so once a page.
using Doubts = std::map<std::uint32_t, std::vector<check::Doubt>>;
Doubts doubts_of(const archive::Archive& kept, const std::vector<PullOfBed>& pulls);

// Why the calibration of this pull is in doubt; "" if it is not.
std::string doubt_of(const Doubts& doubts, const PullOfBed& pull);

// Fields of the page: in_doubt (one line, absent if there is none), trends and sign_offs (lists of text).
void add_marks(kainjow::mustache::data& page, const archive::Archive& kept, std::uint32_t bed,
               const std::vector<PullOfBed>& pulls, const Doubts& doubts);

}  // namespace strandproof::host::report
