#include "host-tool/bed/plan.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::bed {
namespace {

double code_limit(const Plan& plan) {
  if (plan.code == Code::aci) return 0.80 * plan.strand.breaking_n;
  return std::min(0.8 * plan.strand.breaking_n, 0.9 * plan.strand.proof_n);
}

// Movement of the abutments while this strand is pulled from the datum to the jack force.
double abutment_movement(const Plan& plan, double rise_n) {
  return plan.abutments_n_per_m > 0.0 ? rise_n / plan.abutments_n_per_m : plan.abutment_movement_m;
}

}  // namespace

Pull work_out(const Plan& plan, const Position& position, double margin) {
  const double ae =
      position.area_m2.value_or(plan.strand.area_m2) * position.modulus_pa.value_or(plan.strand.modulus_pa);
  const double warmed = plan.warmed_m > 0.0 ? plan.warmed_m : plan.length_m;
  Pull p{};
  p.thermal_n = plan.expansion_per_k * ae * plan.warming_k * warmed / plan.length_m;
  p.seated_n = plan.design_n + p.thermal_n;
  p.strand_n_per_m = ae / plan.length_m;
  p.overpull_n = p.strand_n_per_m * plan.draw_in_m;
  p.jack_n = p.seated_n + p.overpull_n;
  p.code_limit_n = code_limit(plan);
  p.limit_n = p.code_limit_n * (1.0 - std::max(plan.margin.value_or(0.0), margin));
  p.net_m = (p.seated_n - plan.initial_n) / p.strand_n_per_m;
  p.tail_stretch_m = (p.jack_n - plan.initial_n) * plan.tail_m / ae;
  const double rise_n = p.jack_n - plan.initial_n;
  const double abutments_m = abutment_movement(plan, rise_n);
  const double moved_m = plan.dead_end_m + abutments_m + plan.splices_m;
  p.mark_after_m = p.net_m + moved_m;
  p.mark_before_m = p.mark_after_m + plan.draw_in_m;
  p.gross_m = p.mark_before_m + p.tail_stretch_m;
  p.window_m = std::max(plan.elongation_window * p.net_m, plan.elongation_floor_m);
  p.ram_n_per_m = 1.0 / ((plan.length_m + plan.tail_m) / ae + abutments_m / rise_n);
  return p;
}

// trade.md 2.2 item 13 with what a stroke of ours loses: the jack divides the pull itself, from where its ram
// stands; this says whether it can and about how often it will.
unsigned strokes(const Plan& plan, const Pull& pull) {
  constexpr double lost_first_m = 0.025;  // ram where it begins, and the end of the stroke left unused
  constexpr double lost_next_m = 0.045;   // and grip, tail and lift-off; beside the draw-in
  constexpr double least_m = 0.080;
  constexpr unsigned most = 5;
  if (plan.slack_max_m + pull.gross_m <= plan.stroke_m) return 1;  // the jack counts without the window
  const double wanted = pull.gross_m + pull.window_m;
  const double first = plan.stroke_m - plan.slack_max_m - lost_first_m;
  const double next = plan.stroke_m - plan.draw_in_max_m - lost_next_m;
  if (first < least_m || next < least_m) return 0;
  const double n = 1.0 + std::ceil(std::max(1.0, (wanted - first) / next));
  return n <= most ? static_cast<unsigned>(n) : 0;
}

void check(const Plan& plan, const Position& position, const Pull& pull) {
  const auto where = fmt::format("bed {} position {}", plan.bed, position.number);
  if (!(plan.initial_n < plan.design_n)) {
    throw refused(fmt::format("{}: initial force {:.2f} kN is not below the design force {:.2f} kN; lower it",
                              where, plan.initial_n / 1e3, plan.design_n / 1e3));
  }
  if (!(pull.jack_n <= pull.limit_n)) {
    throw refused(fmt::format(
        "{}: jack force {:.2f} kN ({:.4f} of the breaking force) is above the limit {:.2f} kN (code "
        "{:.2f} kN less margin); lower the design force, reduce the draw-in, or use a longer bed",
        where, pull.jack_n / 1e3, pull.jack_n / plan.strand.breaking_n, pull.limit_n / 1e3,
        pull.code_limit_n / 1e3));
  }
  if (strokes(plan, pull) == 0) {
    throw refused(fmt::format(
        "{}: slack, elongation and window need {:.0f} mm of travel, too many strokes of {:.0f} mm; take up "
        "slack by hand, or use a jack with a longer stroke",
        where, (plan.slack_max_m + pull.gross_m + pull.window_m) * 1e3, plan.stroke_m * 1e3));
  }
}

}  // namespace strandproof::host::bed
