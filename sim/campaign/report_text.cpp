// The report as lines for a terminal and as JSON for a script.
#include <nlohmann/json.hpp>

#include "sim/bench/format.hpp"
#include "sim/bench/names.hpp"
#include "sim/campaign/report.hpp"

namespace strandproof::sim {
namespace {

using Json = nlohmann::ordered_json;

Json spread_json(const Spread& s) {
  return {{"count", s.count()},
          {"median", s.quantile(0.5)},
          {"p99_of_size", s.size_quantile(0.99)},
          {"p999_of_size", s.size_quantile(0.999)},
          {"least", s.least()},
          {"most", s.most()}};
}

Json ends_json(const Ends& ends) {
  Json j;
  for (std::size_t i = 0; i < end_count; ++i) {
    j[std::string(end_text(static_cast<End>(i)))] = ends[i];
  }
  return j;
}

Json worst_json(const Report& r, const std::string& replay) {
  Json list = Json::array();
  for (const Outcome& o : r.worst) {
    list.push_back({{"pull", o.pull},
                    {"end", end_text(end_of(o))},
                    {"verdict", verdict_text(o.verdict)},
                    {"cause", o.cause == 0 ? "" : cause_text(static_cast<std::uint8_t>(o.cause)).what},
                    {"fault", o.fault},
                    {"breach", o.breach},
                    {"failure", o.failure},
                    {"stop_error", o.stop_error},
                    {"replay", replay + " " + std::to_string(o.pull)}});
  }
  return list;
}

std::string spread_line(const char* what, const Spread& s) {
  return format("%-34s median %+.4f %%  99 %% within %.4f %%  %+.4f to %+.4f %%\n", what,
                100.0 * s.quantile(0.5), 100.0 * s.size_quantile(0.99), 100.0 * s.least(), 100.0 * s.most());
}

}  // namespace

std::string report_json(const Report& r, const std::string& replay) {
  Json j;
  j["origin"] = "simulated";
  j["campaign"] = r.name;
  j["results"] = r.title;
  j["seed"] = r.seed;
  j["pulls"] = r.pulls;
  j["virtual_s"] = r.virtual_s;
  j["ends"] = ends_json(r.ends);
  j["causes"] = Json::object();
  for (const auto& [cause, count] : r.causes) {
    j["causes"][std::string(cause_text(static_cast<std::uint8_t>(cause)).what)] = count;
  }
  j["breaches"] = r.breaches;
  j["faults"] = Json::object();
  for (const auto& [name, f] : r.faults) {
    j["faults"][name] = {{"drawn", f.drawn},
                         {"began", f.began},
                         {"noticed", f.noticed},
                         {"unnoticed_breach", f.bit},
                         {"ends", ends_json(f.ends)}};
  }
  j["stop_error"] = spread_json(r.stop_error);
  j["control_accuracy"] = spread_json(r.accuracy);
  j["locked_error"] = spread_json(r.locked_error);
  j["swept"] = r.swept;
  j["cells"] = Json::array();
  for (const Cell& cell : r.cells) {
    j["cells"].push_back(
        {{"at", cell.at}, {"ends", ends_json(cell.ends)}, {"stop_error", spread_json(cell.stop_error)}});
  }
  j["worst"] = worst_json(r, replay);
  return j.dump(2) + "\n";
}

std::string report_text(const Report& r, const std::string& replay) {
  std::string text =
      format("SIMULATED  campaign \"%s\", seed %llu: %llu pulls, %.0f s of virtual time\n", r.name.c_str(),
             static_cast<unsigned long long>(r.seed), static_cast<unsigned long long>(r.pulls), r.virtual_s);
  for (std::size_t i = 0; i < end_count; ++i) {
    text += format("  %-28s %llu\n", std::string(end_text(static_cast<End>(i))).c_str(),
                   static_cast<unsigned long long>(r.ends[i]));
  }
  text += spread_line("true force less jack force", r.stop_error);
  text += spread_line("control accuracy", r.accuracy);
  text += spread_line("true locked force less recorded", r.locked_error);
  if (!r.worst.empty()) {
    text +=
        format("worst: pull %u, %s; %s %u\n", r.worst.front().pull,
               std::string(end_text(end_of(r.worst.front()))).c_str(), replay.c_str(), r.worst.front().pull);
  }
  if (r.ends[static_cast<std::size_t>(End::breach)] == 0) {
    text += format(
        "no limit breached in %llu pulls as drawn: fewer than 1 in %.0f with 95 %% confidence; "
        "plant values assumed\n",
        static_cast<unsigned long long>(r.pulls), static_cast<double>(r.pulls) / 3.0);
  }
  return text;
}

}  // namespace strandproof::sim
