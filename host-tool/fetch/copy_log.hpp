// The order that the rule of two copies rests on: fetch, store, and only then acknowledge.
#pragma once

#include <cstdint>
#include <functional>
#include <string>

#include "host-tool/fetch/intake.hpp"
#include "proto/peer/peer.hpp"

namespace strandproof::host::fetch {

// Whether the jack counts this archive among the copies of its log.
enum class Counted : std::uint8_t { yes, nothing_held, not_paired, jack_works, list_full };

// Runs a job on the peer to its end. Only "done" and "refused" come back.
using Run = std::function<proto::Result(const std::function<void(proto::Peer&, proto::Peer::Done)>&)>;

// Only what is durable in the archive may be freed there. Throws Problem (refused) for a refusal that is no
// Counted.
[[nodiscard]] Counted acknowledge(const Run& run, const proto::Peer& peer, const Intake& intake,
                                  const proto::CopyName& copy);

// Throws Problem (refused) for an archive that is an older copy of itself.
void demand_newest(const Run& run, const proto::Peer& peer, const Intake& intake);

// All that is new, from an identified jack whose on_record is the intake's take().
[[nodiscard]] Counted copy_log(const Run& run, const proto::Peer& peer, Intake& intake,
                               const proto::CopyName& copy);

// Why a jack does not count what is held here, and what to do; empty where it does.
[[nodiscard]] std::string why_not(Counted counted);

}  // namespace strandproof::host::fetch
