#include "host-tool/gauge/plain.hpp"

#include <array>
#include <map>
#include <nlohmann/json.hpp>

namespace strandproof::host::gauge {

PlainData read_plain(std::string_view text, const std::string& name, const CsvOptions& options) {
  constexpr std::array<ColumnSpec, 2> columns{{{"x", Quantity::plain, true}, {"y", Quantity::plain, true}}};
  Csv csv{text, name, options, columns};
  PlainData data;
  std::map<double, int> groups;
  while (csv.next()) {
    const double x = csv.number(0);
    const int group = groups.try_emplace(x, static_cast<int>(groups.size())).first->second;
    data.readings.push_back({x, csv.number(1), group});
    data.lines.push_back(csv.line());
  }
  return data;
}

std::string plain_json(const PlainData& data, const Fit& fit) {
  nlohmann::ordered_json j{{"degree", fit.degree},
                           {"through_origin", fit.through_origin},
                           {"coefficients", fit.coefficient},
                           {"standard_errors", fit.standard_error},
                           {"covariance", fit.covariance},
                           {"residual_sd", fit.residual_sd},
                           {"residual_dof", fit.residual_dof},
                           {"residual_sum_of_squares", fit.residual_ss},
                           {"r_squared", fit.r_squared}};
  const auto& l = fit.lack_of_fit;
  j["lack_of_fit"] = nullptr;
  if (l.available) {
    j["lack_of_fit"] = {{"f", l.f},
                        {"f_limit_5_percent", l.f_limit},
                        {"groups_dof", l.groups_dof},
                        {"pure_dof", l.pure_dof},
                        {"pure_sd", l.pure_sd},
                        {"rejected", l.rejected}};
  }
  j["readings"] = nlohmann::ordered_json::array();
  for (std::size_t i = 0; i < fit.reading.size(); ++i) {
    const auto& r = fit.reading[i];
    j["readings"].push_back({{"line", data.lines[i]},
                             {"residual", r.residual},
                             {"leverage", r.leverage},
                             {"studentised", r.studentised},
                             {"high_leverage", r.high_leverage},
                             {"outlier", r.outlier}});
  }
  return j.dump(2) + "\n";
}

}  // namespace strandproof::host::gauge
