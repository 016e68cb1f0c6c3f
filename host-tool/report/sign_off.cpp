#include "host-tool/report/sign_off.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/report/marks.hpp"

namespace strandproof::host::report {
namespace {

constexpr std::uint32_t origin_hardware = 3;  // Identity.origin

Problem against(std::uint32_t bed, const PullOfBed& p, const std::string& what) {
  return refused(fmt::format("bed {} can not be signed off: position {} {}", bed, p.record.position(), what));
}

void check_pull(std::uint32_t bed, const std::vector<PullOfBed>& pulls, const Doubts& doubts,
                const PullOfBed& p) {
  if (p.record.origin() != origin_hardware)
    throw against(bed, p, "is of a jack that is " + texts::origin(p.record.origin()));
  if (!is_good(pulls, p.record.position()))
    throw against(bed, p, "has no last pull within limits; the responsible engineer decides on it first");
  const auto doubt = doubt_of(doubts, p);
  if (!doubt.empty()) throw against(bed, p, "has its calibration in doubt: " + doubt);
}

}  // namespace

archive::SignOff sign_off_of(const archive::Archive& kept, std::uint32_t bed, const std::string& by,
                             std::int64_t at_s) {
  if (by.empty()) throw bad_input("whose sign-off? say the role with --by, no person's name");
  const auto pulls = pulls_of_bed(kept, bed);
  if (pulls.empty()) throw refused(fmt::format("no pull of bed {} in the archive; fetch the log first", bed));
  archive::SignOff s{bed, by, at_s, static_cast<std::uint32_t>(pulls.size()), 0, {}};
  const Doubts doubts = doubts_of(kept, pulls);
  std::string bodies;
  for (const auto& p : pulls) {
    check_pull(bed, pulls, doubts, p);
    s.last_record = std::max(s.last_record, p.stored.sequence);
    bodies += p.stored.body;
  }
  s.digest_hex = sha256_hex(bodies);
  return s;
}

}  // namespace strandproof::host::report
