// The conditions under which a pull may be armed: the first that is not met is the reason shown.
#pragma once

#include "firmware/control/gauge_table.hpp"
#include "firmware/control/inputs.hpp"
#include "firmware/control/instruction.hpp"
#include "firmware/control/measures.hpp"
#include "firmware/control/settings.hpp"

namespace strandproof::control {

// What the app knows and control does not: clock, store, marks on the bed. none: no objection.
struct Gates {
  Refusal clock = Refusal::clock_not_known;  // clock_not_known, table_overdue or none
  Refusal store = Refusal::none;             // store_full, store_fault, store_worn
  Refusal bed = Refusal::none;               // strand_replace, bed_inspect
  Refusal table = Refusal::none;             // withdrawn, part changed, damaged, key gone, rolled back
};

[[nodiscard]] Refusal may_arm(const PullInstruction& i, const GaugeTable& t, const Jack& jack,
                              const Settings& s, const Measures& m, const Switches& is, const Gates& gates);

// none: jack and both pressure sensors are those that the table was made with (H07, H18), and it was measured
// where the jack is. Else table_serial, table_origin.
[[nodiscard]] Refusal made_for(const GaugeTable& t, const Jack& jack);

// Objections to an instruction when it is loaded, before anybody is at the pendant.
[[nodiscard]] Refusal may_load(const PullInstruction& i, const Jack& jack);

}  // namespace strandproof::control
