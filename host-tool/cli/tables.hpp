// What the commands about the jack's two slots have in common.
#pragma once

#include <cstdint>
#include <string>

#include "host-tool/archive/archive.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::cli {

inline constexpr std::uint32_t clock_lost = 2;  // of Status.clock_quality; from here on the time is not known

// Asks the jack for both slots and its table keys.
const wire::Tables& read_tables(Connection& c);

// 1 or 2. Throws Problem (refused) if no slot is active.
std::uint32_t active_slot(const wire::Tables& tables, std::uint32_t jack);
const wire::TableSlot& slot(const wire::Tables& tables, std::uint32_t number);

// The bytes of a slot as they lie in the jack. Throws Problem (refused) if their digest is not what the jack
// says.
std::string read_slot(Connection& c, std::uint32_t number, const wire::TableSlot& slot);

// The active table as the jack holds it.
gauge::HeldTable read_active(Connection& c, std::uint32_t& revision);

// "1122 33aa bbcc ddee" of a fingerprint's bytes; "none" of none.
std::string grouped(const std::string& fingerprint);

// The jack that is meant without a line: the one named, else the only one in the archive. Throws Problem
// (fault).
std::uint32_t chosen_jack(const archive::Archive& kept, std::uint32_t named);

// "45 days left", "OVERDUE by 3 days".
std::string days_left(std::int64_t due_s, std::int64_t now_s);

// Strands in doubt as lines; how many there are.
std::size_t print_doubt(const archive::Archive& kept, std::uint32_t device);

}  // namespace strandproof::host::cli
