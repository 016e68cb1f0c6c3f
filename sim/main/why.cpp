#include "sim/main/why.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "proto/peer/measured.hpp"
#include "sim/bench/format.hpp"
#include "sim/bench/names.hpp"

namespace strandproof::sim {
namespace {

double left_of(const RowLook& look) {
  const auto left = static_cast<double>(look.lowest ? look.value - look.limit : look.limit - look.value);
  return left / std::max(1.0, std::abs(static_cast<double>(look.limit)));
}

void take(WhyRow& row, const RowLook& look, const Instant& now) {
  row.cause = look.cause;
  row.lowest = look.lowest;
  if (row.acted.time_s < 0.0 && now.cause == look.cause) {
    row.acted = now;
  }
  if (!look.judged) {
    return;
  }
  row.looked = true;
  if (row.met.time_s < 0.0 && look.active) {
    row.met = now;
  }
  if (look.limit == 0) {
    return;
  }
  row.limited = true;
  const double left = left_of(look);
  if (left < row.left) {
    row.left = left;
    row.value = look.value;
    row.limit = look.limit;
    row.nearest = now;
  }
}

std::string at(const Instant& i) {
  return format("%.3f s, ", i.time_s) + std::string(state_name(i.state));
}

std::string reason(const WhyRow& row) {
  if (row.acted.time_s >= 0.0) {
    return "acted: " + at(row.acted);
  }
  if (row.met.time_s >= 0.0) {
    const std::string met = "its condition was met: " + at(row.met);
    return row.met.cause == 0 ? met + ", a state in which this row does not act"
                              : met + "; before it came " + std::string(cause_text(row.met.cause).what);
  }
  if (!row.looked) {
    return "not looked at: the pull came to no state for it";
  }
  return row.limited ? format("%.1f %% of the limit left: ", 100.0 * row.left) + at(row.nearest)
                     : "its condition was never met";
}

std::string near_text(const WhyRow& row) {
  return proto::measured(row.cause, row.value) + (row.lowest ? "; lowest allowed " : "; limit ") +
         proto::measured(row.cause, row.limit);
}

nlohmann::ordered_json instant_json(const Instant& i) {
  if (i.time_s < 0.0) {
    return nullptr;
  }
  return {{"time_s", i.time_s}, {"state", state_name(i.state)}};
}

}  // namespace

void Why::tick(const Moment& m) {
  brain_->rows(looks_);
  rows_.resize(looks_.size());
  const Instant now{m.time_s, state_, m.answer.cause};  // the rows look before the state changes
  state_ = m.answer.state;
  for (std::size_t i = 0; i < looks_.size(); ++i) {
    take(rows_[i], looks_[i], now);
  }
}

std::string why_text(const std::vector<WhyRow>& rows) {
  std::string text =
      "why each row acted or not, in their order (the first whose condition is met is the cause)\n";
  for (const WhyRow& row : rows) {
    text += format("  %-31s ", std::string(cause_text(row.cause).what).c_str()) + reason(row) + "\n";
    if (row.limited) {
      text += format("  %-31s nearest ", "") + near_text(row) + "\n";
    }
  }
  return text;
}

std::string why_json(const std::vector<WhyRow>& rows) {
  auto list = nlohmann::ordered_json::array();
  for (const WhyRow& row : rows) {
    nlohmann::ordered_json j{{"row", cause_text(row.cause).what}, {"looked_at", row.looked}};
    if (row.limited) {
      j["nearest"] = {{"value", proto::measured(row.cause, row.value)},
                      {"limit", proto::measured(row.cause, row.limit)},
                      {"lowest", row.lowest},
                      {"left_of_limit", row.left},
                      {"at", instant_json(row.nearest)}};
    }
    j["met"] = instant_json(row.met);
    j["acted"] = instant_json(row.acted);
    j["why"] = reason(row);
    list.push_back(j);
  }
  return list.dump(2) + "\n";
}

}  // namespace strandproof::sim
