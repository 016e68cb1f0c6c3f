// What `pull` prints, for people and for scripts.
#include <nlohmann/json.hpp>

#include "sim/bench/format.hpp"
#include "sim/bench/keys.hpp"
#include "sim/bench/names.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

std::string hex(std::uint64_t value) {
  return format("%016llx", static_cast<unsigned long long>(value));
}

std::string plan_text(const Scenario& s, const PlannedPull& p) {
  return "SIMULATED  scenario \"" + s.name + "\", seed " + std::to_string(s.seed) + "\n" +
         format(
             "%s, %.1f m, initial %.1f kN, jack force %.2f kN, limit %.2f kN, elongation %.1f mm (%.1f to "
             "%.1f)\n",
             s.strand.name.c_str(), s.strand.length, p.initial / 1e3, p.jack / 1e3, p.limit / 1e3,
             p.elongation * 1e3, p.elongation_min * 1e3, p.elongation_max * 1e3);
}

std::string jack_text(const Scenario& s) {
  return s.jack_file.empty() ? ""
                             : s.jack_file + ": " + std::to_string(s.measured.size()) +
                                   (s.jack_simulated ? " values fitted to a simulated jack, "
                                                     : " values measured on the jack, ") +
                                   std::to_string(jack_key_names().size() - s.measured.size()) + " assumed\n";
}

std::string states_text(const Timeline& timeline) {
  std::string text = "  time s  state       true force kN  stroke mm  cause\n";
  for (const Visit& v : timeline.visits()) {
    const CauseText cause = v.cause != 0 ? cause_text(v.cause) : CauseText{};
    text += format("%8.3f  %-10s  %13.3f  %9.2f  %s\n", v.from_s, std::string(state_name(v.state)).c_str(),
                   v.force_n / 1e3, v.stroke_m * 1e3, std::string(cause.what).c_str());
  }
  return text;
}

}  // namespace

std::string result_text(const PullResult& r) {
  std::string text;
  if (r.timeline.end_of_settle().taken) {
    text += format(
        "end of settle: true force %.3f kN, %+.0f N (%+.3f %%) off the jack force; control accuracy %+.3f "
        "%%\n",
        r.timeline.end_of_settle().force_n / 1e3, r.stop_error_n, 100.0 * r.stop_error_n / r.plan.jack,
        100.0 * r.accuracy);
  }
  if (r.recorded) {
    text += format(
        "recorded: %s; settle %.2f kN, locked %.2f kN (true %.2f), elongation %.1f mm; %zu records read "
        "back\n",
        std::string(verdict_text(r.verdict)).c_str(), r.recorded_settle_n / 1e3, r.recorded_locked_n / 1e3,
        r.locked_n / 1e3, r.recorded_elongation_m * 1e3, r.log.size());
  }
  if (r.timeline.first_cause() != 0) {
    const CauseText cause = cause_text(r.timeline.first_cause());
    text += format("first cause: %s at %.3f s; %s\n", std::string(cause.what).c_str(),
                   r.timeline.first_cause_s(), std::string(cause.remedy).c_str());
  }
  if (!r.failure.empty()) {
    const RefusalText why = refusal_text(r.refusal);
    text += "not done: " + r.failure +
            (r.refusal != 0 ? " (" + std::string(why.why) + "; " + std::string(why.remedy) + ")" : "") + "\n";
  }
  return text + "load state at the end: " + std::string(load_text(r.load_state)) + "\n";
}

std::string summary(const Scenario& s, const PullResult& r, double wall_s) {
  std::string text = plan_text(s, r.plan) + jack_text(s) + states_text(r.timeline) + result_text(r);
  for (const Breach& b : r.breaches) {
    text += format("BREACH %s at %.3f s: ", b.check.c_str(), b.time_s) + b.what + "\n";
  }
  if (r.breaches.empty()) {
    text += std::string(no_breach_text) + "\n";
  }
  text += "trace " + hex(r.trace_hash) + " (" + std::to_string(r.rows) + " ticks), memory " +
          hex(r.flash_hash) + "\n";
  return text + format("%.1f s of virtual time in %.3f s: %.0f times real time\n", r.virtual_s, wall_s,
                       r.virtual_s / wall_s);
}

std::string summary_json(const Scenario& s, const PullResult& r, double wall_s) {
  nlohmann::ordered_json j;
  j["origin"] = "simulated";
  j["scenario"] = s.name;
  j["seed"] = s.seed;
  j["jack_n"] = r.plan.jack;
  j["limit_n"] = r.plan.limit;
  for (const Visit& v : r.timeline.visits()) {
    j["states"].push_back({{"time_s", v.from_s},
                           {"state", state_name(v.state)},
                           {"force_n", v.force_n},
                           {"stroke_m", v.stroke_m},
                           {"cause", v.cause}});
  }
  j["settle_true_n"] = r.timeline.end_of_settle().force_n;
  j["stop_error_n"] = r.stop_error_n;
  j["control_accuracy"] = r.accuracy;
  j["peak_true_n"] = r.timeline.peak_n();
  j["locked_true_n"] = r.locked_n;
  j["recorded"] = r.recorded;
  j["verdict"] = r.verdict;
  j["verdict_text"] = verdict_text(r.verdict);
  j["state"] = state_name(r.state);
  j["cause"] = r.timeline.first_cause();
  j["cause_text"] = cause_text(r.timeline.first_cause()).what;
  j["load_state"] = load_text(r.load_state);
  j["refusal"] = r.refusal;
  j["failure"] = r.failure;
  j["breaches"] = nlohmann::ordered_json::array();
  for (const Breach& b : r.breaches) {
    j["breaches"].push_back({{"check", b.check}, {"what", b.what}, {"time_s", b.time_s}});
  }
  j["trace_hash"] = hex(r.trace_hash);
  j["memory_hash"] = hex(r.flash_hash);
  j["virtual_s"] = r.virtual_s;
  j["real_time_factor"] = r.virtual_s / wall_s;
  return j.dump(2) + "\n";
}

}  // namespace strandproof::sim
