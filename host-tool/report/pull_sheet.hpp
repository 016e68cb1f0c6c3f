// One pull as the fields of the page's template.
#pragma once

#include <string>
#include <vector>

#include "host-tool/report/stressing_record.hpp"
#include "host-tool/report/template_data.hpp"
#include "proto/peer/snapshot.hpp"

namespace strandproof::host::report {

// Standard uncertainty of the draw-in that the jack works out while it is released. A figure of our own
// simulated jack; no jack of steel has been measured for it.
inline constexpr double draw_in_uncertainty_um = 300.0;
// And of the elongation over one re-bite: that draw-in and the place of the lift-off. Likewise.
inline constexpr double re_bite_uncertainty_um = 400.0;

// An event of the jack with where it lies in its log.
struct EventOfJack {
  archive::StoredRecord stored;
  wire::EventRecord record;
};

kainjow::mustache::data event_row(const EventOfJack& event);

// A trip of a pull: its event, and what it left behind.
struct TripOfPull {
  EventOfJack event;
  proto::TripSnapshot shot;
};

// events: those of this pull's instruction.
kainjow::mustache::data pull_sheet(const PullOfBed& pull, const proto::PullCurve& curve,
                                   const std::vector<EventOfJack>& events,
                                   const std::vector<TripOfPull>& trips);

}  // namespace strandproof::host::report
