// What may be deleted, and when: the records of a bed that was signed off longer ago than the minimum age.
// Their names, digests and the deletion itself, with who and why, stay for ever.
#pragma once

#include <cstdint>
#include <string>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::archive {

// Ten years. A choice of ours: codes and contracts differ, and the longest of them counts.
inline constexpr std::uint64_t first_minimum_age_days = 3653;

// The one in force.
std::uint64_t minimum_age_days(const Archive& archive);

// Enters a longer one. Throws Problem (refused) if it is not longer than the one in force.
Entry raise_minimum_age(Archive& archive, std::uint64_t days, const std::string& by, std::int64_t now_s);

// Deletes the pull records of a bed and enters that. Throws Problem (refused) if the bed is not signed off,
// has pulls that its last sign-off did not cover, or was signed off less than the minimum age ago.
Entry remove_bed(Archive& archive, std::uint32_t bed, const std::string& by, const std::string& why,
                 std::int64_t now_s);

}  // namespace strandproof::host::archive
