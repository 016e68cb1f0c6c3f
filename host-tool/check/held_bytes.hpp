// A gauge table as the bytes that are signed, sent and held by the jack, and back.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "host-tool/archive/archive.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::check {

// The encoded wire::GaugeTable; the same table and revision give the same bytes.
std::string held_bytes(const gauge::HeldTable& table, std::uint32_t revision);

// What the bytes say. Nothing if they are no gauge table, or say no origin.
std::optional<gauge::HeldTable> from_held_bytes(const std::string& bytes);

// The revision that an undo brought back; 0: not known.
std::uint32_t came_back(const archive::HistoryEntry& undone);

// The revision that the jack works with as far as this archive knows: the last one loaded, or what an undo
// came back to; 0: none was loaded by this archive.
std::uint32_t active_revision(const archive::Archive& kept, std::uint32_t device);

// The revision was withdrawn in this archive, whether or not the jack knows it.
bool is_withdrawn(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision);

}  // namespace strandproof::host::check
