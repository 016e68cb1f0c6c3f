// The plan of a bed and the numbers of each strand's pull, worked out by the formulas of practice. SI
// doubles; no files. Symbols beside the members are those of host-tool/README.md, "How a pull is planned".
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace strandproof::host::bed {

// Whose limit of the jack force holds: EN 1992-1-1 5.10.2.1 min(0.8 Fm, 0.9 Fp0.1), or ACI 318 0.80 Fpu.
enum class Code { en, aci };

struct Strand {
  std::string name;   // size and grade as the trade writes it, at most 23 characters
  double area_m2;     // A
  double modulus_pa;  // E, of the mill certificate
  double breaking_n;  // Fm or Fpu
  double proof_n;     // Fp0.1; 0 under ACI
};

struct Position {
  std::uint32_t number;  // from 1
  std::uint32_t reel;
  std::optional<double> area_m2;  // of this reel, where it differs from the plan's strand
  std::optional<double> modulus_pa;
};

struct Plan {
  std::uint32_t bed;
  std::string bed_name;                 // at most 23 characters
  std::optional<std::int64_t> until_s;  // end (UTC) of the last day on which strands are pulled
  std::uint32_t jack_serial;
  double stroke_m;  // usable
  Code code;
  Strand strand;
  double length_m;                   // L, chuck to chuck
  double tail_m;                     // Lt, chuck to jack grip
  double abutments_n_per_m = 0.0;    // both ends in series; 0: not given
  double abutment_movement_m = 0.0;  // d_ab at the seated force; used where no stiffness is given
  double initial_n;                  // P0
  double design_n;                   // P
  double warming_k = 0.0;            // dT: concrete less strand, for abutment beds
  double warmed_m = 0.0;             // Lc, length that warms; 0: L
  double expansion_per_k = 11.7e-6;  // alpha (from memory, check the code that applies)
  double draw_in_m;                  // d_le, live end
  double draw_in_max_m;
  double dead_end_m = 0.0;       // d_de, after the datum
  double splices_m = 0.0;        // d_sp, all of them
  double slack_max_m;            // ram travel allowed before the initial force
  double force_window;           // fraction of the seated force
  double elongation_window;      // fraction of the net elongation
  double elongation_floor_m;     // but never narrower than this
  double stiffness_uncertainty;  // fraction
  std::optional<double> margin;  // of the code's limit, where more is wanted than control and table take
  std::vector<Position> positions;
};

struct Pull {
  double thermal_n;       // alpha E A dT Lc / L
  double seated_n;        // Pw = P + thermal
  double strand_n_per_m;  // k = A E / L
  double overpull_n;      // k d_le
  double jack_n;          // Pj
  double code_limit_n;
  double limit_n;         // code limit less the margin
  double net_m;           // D_net = (Pw - P0) L / (A E)
  double tail_stretch_m;  // d_t = (Pj - P0) Lt / (A E)
  double gross_m;         // ram travel from the datum
  double mark_before_m;   // mark at the live-end chuck before seating: gross - d_t
  double mark_after_m;    // and after it: net + d_de + d_ab + d_sp
  double window_m;        // of the elongation, half width
  double ram_n_per_m;     // stiffness that the ram sees: 1 / (L/AE + Lt/AE + 1/abutments)
};

// margin: fraction of the code's limit that control and table may use up; the plan's own can only raise it.
Pull work_out(const Plan& plan, const Position& position, double margin);

// How many strokes of the jack it takes, about; 0: too many, or a stroke too short for its slack.
unsigned strokes(const Plan& plan, const Pull& pull);

// Throws Problem (refused): the jack force above the limit, an initial force not below the design force, or
// more travel than the strokes have together. Each with the numbers and the remedy.
void check(const Plan& plan, const Position& position, const Pull& pull);

}  // namespace strandproof::host::bed
