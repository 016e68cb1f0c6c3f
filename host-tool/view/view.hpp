// Messages of the wire as lines for people and JSON for scripts.
#pragma once

#include <string>

#include "host-tool/archive/archive.hpp"
#include "proto/frame.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::view {

// Force and length as people read them: "129.95 kN", "352.1 mm".
std::string kilonewtons(std::int64_t n);
std::string millimetres(std::int64_t um);

// The value and the limit of an event in the unit of its cause ("129.95 kN", "3.2 mm", "350 ms", ...).
std::string in_unit_of_cause(std::uint32_t cause, std::uint32_t value);

// What a stored record says, on one line; a body that can not be decoded is said to be so.
std::string describe(const wire::Record& record);
std::string describe(const archive::StoredRecord& record);

// A frame of the wire with its header and content, on one line.
std::string describe(const proto::Frame& frame);

// Field names of wire.proto, every field present; 64-bit numbers are texts and bytes base64, as protobuf has them.
std::string to_json(const google::protobuf::Message& message);

}  // namespace strandproof::host::view
