// The part of a table's file that the jack will hold, as one digest, and what a file must keep before it is
// signed. This finds an edit or a slip of the hand; who makes up a whole file makes up its digest too, and
// only the key that signs stands against that.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::gauge {

// SHA-256, hexadecimal, of the held part as plain lines (README, "The table file"). The revision is not in
// it: the same for every load of one table. Simulated and emulated count as one: the jack does not hold
// which.
std::string held_digest(const HeldTable& table);

// SHA-256, hexadecimal, of a table's file without its field `file_sha256`, written as to_json writes it:
// spaces and line ends do not count, every other sign does. "" if it is no JSON object.
std::string file_digest(std::string_view text);

// Throws Problem (refused): calibrated more than a day after now_s (UTC), or due more than 400 days after the
// calibration.
void check_dates(const HeldTable& table, const std::string& name, std::int64_t now_s);

// Reads the table and looks whether it is what a fit or an import wrote. Throws Problem: as from_json does;
// (refused) with "changed after the fit": the digest, a point more than 1 N and the stated interpolation
// error off the curve that the file states, a class or uncertainty that its own figures do not give, or any
// other field that is not as it was written; and as check_dates does.
HeldTable read_sound(std::string_view text, const std::string& name, std::int64_t now_s);

}  // namespace strandproof::host::gauge
