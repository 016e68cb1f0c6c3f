// Writes the table's file; table_file.cpp reads it.
#include <fmt/core.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "host-tool/base/text.hpp"
#include "host-tool/gauge/held_check.hpp"
#include "host-tool/gauge/table_file.hpp"
#include "host-tool/gauge/table_format.hpp"

namespace strandproof::host::gauge {
namespace {

using Json = nlohmann::ordered_json;

// JSON has no infinity: degrees of freedom without end are null.
Json finite(double value) {
  return std::isfinite(value) ? Json(value) : Json(nullptr);
}

template <class T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json fit_json(const Fit& fit) {
  Json j;
  j["degree"] = fit.degree;
  j["coefficients_n_per_mbar_power"] = fit.coefficient;
  j["standard_errors"] = fit.standard_error;
  j["covariance"] = fit.covariance;
  j["residual_sd_n"] = fit.residual_sd;
  j["residual_dof"] = fit.residual_dof;
  j["r_squared"] = fit.r_squared;
  j["largest_residual_n"] = fit.largest_residual;
  const auto& l = fit.lack_of_fit;
  j["lack_of_fit"] = nullptr;
  if (!l.available) return j;
  j["lack_of_fit"] = {{"f", l.f},
                      {"f_limit_5_percent", l.f_limit},
                      {"groups_dof", l.groups_dof},
                      {"pure_dof", l.pure_dof},
                      {"pure_sd_n", l.pure_sd},
                      {"rejected", l.rejected}};
  return j;
}

Json column_json(const Column& column) {
  Json j;
  j["points_mbar_n"] = Json::array();
  for (const auto& p : column.points) j["points_mbar_n"].push_back({p.pressure_mbar, p.force_n});
  if (column.candidates.empty()) return j;
  j["degree"] = column.chosen().degree;
  j["through_origin"] = column.chosen().through_origin;
  j["degree_chosen_by"] = column.forced ? "request" : "lack of fit";
  j["interpolation_error_n"] = column.interpolation_n;
  j["interpolation_error_share_of_a_tenth_of_the_uncertainty"] = column.interpolation_share;
  j["largest_residual_percent"] = column.largest_percent;
  j["flagged"] = Json::array();
  for (const auto& f : column.flagged) {
    j["flagged"].push_back({{"line", f.line},
                            {"residual_n", f.residual_n},
                            {"leverage", f.leverage},
                            {"studentised", f.studentised},
                            {"outlier", f.outlier}});
  }
  j["fits"] = Json::array();
  for (const auto& fit : column.candidates) j["fits"].push_back(fit_json(fit));
  return j;
}

Json budget_json(const BudgetLine& line) {
  Json j{{"pressure_mbar", line.pressure_mbar}, {"force_n", line.force_n}};
  for (std::size_t p = 0; p < part_count; ++p) {
    j["standard_n"][part_name(static_cast<Part>(p))] = line.part[p].standard_n;
  }
  j["combined_n"] = line.combined_n;
  j["effective_dof"] = finite(line.effective_dof);
  j["coverage_factor"] = line.coverage_factor;
  j["expanded_n"] = line.expanded_n;
  j["expanded_percent"] = line.expanded_percent;
  return j;
}

Json errors_json(const LevelErrors& e) {
  return {{"q_accuracy_percent", e.accuracy_percent},
          {"b_repeatability_percent", e.repeatability_percent},
          {"v_reversibility_percent", or_null(e.reversibility_percent)},
          {"a_resolution_percent", e.resolution_percent}};
}

Json class_json(const IsoClass& c) {
  Json j{{"class", c.tenths == 0 ? Json(nullptr) : Json(c.tenths / 10.0)},
         {"limits", c.edition},
         {"not_stated", c.not_stated},
         {"worst", errors_json(c.worst)},
         {"f0_zero_percent", c.zero_percent}};
  for (std::size_t channel = 0; channel < 2; ++channel) {
    Json& list = j[channel == 0 ? "levels_a" : "levels_b"] = Json::array();
    for (const auto& level : c.levels[channel]) {
      list.push_back(errors_json(level.errors));
      list.back()["set_point_n"] = level.set_point_n;
    }
  }
  return j;
}

Json cell_json(const ReferenceCell& c) {
  return {{"serial", c.serial}, {"class", c.class_tenths / 10.0}, {"from_n", c.from_n},
          {"to_n", c.to_n},     {"due", format_time(c.due_s)},    {"expanded_ppm", or_null(c.expanded_ppm)}};
}

Json limits_json(const ClassLimits& l) {
  Json j{
      {"edition", l.edition}, {"checked_by", l.checked_by}, {"date", l.date}, {"incomplete", l.incomplete}};
  j["rows"] = Json::array();
  for (const auto& r : l.rows) {
    j["rows"].push_back({r.tenths, r.accuracy, r.repeatability, r.reversibility, r.zero, r.resolution});
  }
  return j;
}

Json options_json(const TableOptions& o) {
  const Declared& d = o.declared;
  return {{"degree", or_null(o.degree)},
          {"through_origin", o.through_origin},
          {"points", or_null(o.points)},
          {"valid_s", o.valid_s},
          {"class_wanted_tenths", or_null(o.class_wanted)},
          {"split_percent", o.split_percent},
          {"separator", std::string(1, o.csv.separator)},
          {"decimal", std::string(1, o.csv.decimal)},
          {"reference_ppm", or_null(d.reference_ppm)},
          {"resolution_n", d.resolution_n},
          {"temperature_k", d.temperature_k},
          {"temperature_ppm_per_k", d.temperature_ppm_per_k},
          {"temperature_gain_ppm_per_k", d.temperature_gain_ppm_per_k},
          {"sensor_ppm", d.sensor_ppm},
          {"sensor_gain_ppm", d.sensor_gain_ppm},
          {"friction_scatter_percent", d.friction_scatter_percent},
          {"other_ppm", d.other_ppm},
          {"class_limits", limits_json(o.limits)}};
}

Json limit_json(const LowerLimit& l) {
  return {{"llf_n", l.factor_n}, {"class_a_from_n", l.class_a_n}, {"class_aa_from_n", l.class_aa_n}};
}

void add_judgement(Json& j, const Table& t) {
  j["iso_7500_1"] = class_json(t.iso_class);
  j["astm_e74_style"] = {{"a", limit_json(t.lower_limit[0])}, {"b", limit_json(t.lower_limit[1])}};
  j["reference_cell"] = t.cell ? cell_json(*t.cell) : Json(nullptr);
  j["reference_ppm"] = t.reference_ppm;
  j["uncertainty_worst"] = budget_json(t.worst);
  j["within_2_percent_rule_of_practice"] = t.within_practice;
  for (std::size_t channel = 0; channel < 2; ++channel) {
    Json& list = j[channel == 0 ? "uncertainty_a" : "uncertainty_b"] = Json::array();
    for (const auto& line : t.budget[channel]) list.push_back(budget_json(line));
  }
}

}  // namespace

std::string to_json(const Table& t, const Source& source) {
  Json j;
  j["format"] = format_name;
  j["version"] = format_version;
  j["origin"] = origin_text(t.origin);
  j["jack_serial"] = t.jack_serial;
  j["sensor_a_serial"] = t.sensor_serial[0];
  j["sensor_b_serial"] = t.sensor_serial[1];
  j["calibrated"] = format_time(t.calibrated_s);
  j["due"] = format_time(t.due_s);
  j["class_tenths"] = t.iso_class.tenths;
  j["uncertainty_ppm"] = t.uncertainty_ppm;
  j["lowest_initial_n"] = t.lowest_initial_n;
  j["held_sha256"] = held_digest(held(t));
  j["notes"] = t.notes;
  j["source"] = {{"file", source.file}, {"sha256", source.sha256_hex}};
  if (!t.imported) {
    j["source"]["first_reading"] = format_time(t.first_taken_s);
    j["source"]["readings"] = t.reading_marks;
  }
  j["columns"] = {{"a_increasing", column_json(t.increasing[0])},
                  {"a_decreasing", column_json(t.decreasing[0])},
                  {"b_increasing", column_json(t.increasing[1])},
                  {"b_decreasing", column_json(t.decreasing[1])}};
  if (t.imported) {
    j["imported"] = {{"issuer", t.imported->issuer}, {"certificate", t.imported->certificate}};
  } else {
    add_judgement(j, t);
    j["fit_options"] = options_json(t.options);
  }
  j["file_sha256"] = file_digest(j.dump());
  return j.dump(2) + "\n";
}

}  // namespace strandproof::host::gauge
