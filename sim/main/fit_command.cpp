#include "sim/main/fit_command.hpp"

#include <algorithm>
#include <cstdio>
#include <map>
#include <nlohmann/json.hpp>

#include "sim/bench/format.hpp"
#include "sim/fit/fit.hpp"
#include "sim/main/files.hpp"

namespace strandproof::sim {
namespace {

using Notes = std::map<std::string, std::string, std::less<>>;  // by key: what stands behind its value

std::string table_of(const Scenario& scenario, bool measured, const Notes& notes) {
  Scenario s = scenario;
  std::string text = measured ? "[measured]\n" : "[assumed]\n";
  for (const Key& key : scenario_keys()) {
    const bool is = std::find(s.measured.begin(), s.measured.end(), key.name) != s.measured.end();
    if (!belongs_to_jack(key) || is != measured) {
      continue;
    }
    const std::string value = value_text(key, key.value(s));
    const auto note = notes.find(key.name);
    text += std::string(key.name) + " = " + (key.kind == KeyKind::quantity ? "\"" + value + "\"" : value) +
            (note == notes.end() ? "" : "  # " + note->second) + "\n";
  }
  return text;
}

std::string file_text(const Scenario& s, const Notes& notes, const std::string& head) {
  return head + "origin = \"" + (s.jack_simulated ? "simulated" : "bench") + "\"\n\n" +
         table_of(s, true, notes) + "\n" + table_of(s, false, notes);
}

std::string line_of(const Estimate& e) {
  const std::string name = format("  %-24s ", std::string(e.key->name).c_str());
  return name +
         (e.told ? value_text(*e.key, e.value) + " +- " + value_text(*e.key, 2.0 * e.sd, 2)
                 : "cannot tell: " + e.why) +
         "\n";
}

std::string text_of(const Fit& f, const Recording& r) {
  std::string text =
      format("%.1f s of the trace, %u steps, the plant run %u times; +- is two standard deviations\n",
             static_cast<double>(r.driven.size()) / 1e3, f.steps, f.runs);
  for (const Estimate& e : f.estimates) {
    text += line_of(e);
  }
  for (std::size_t c = 0; c < f.misfit.size(); ++c) {
    if (f.misfit[c] > 0.0) {
      text += format("  %-24s what is left is %.2f times its noise\n", std::string(channel_text(c)).c_str(),
                     f.misfit[c]);
    }
  }
  if (!f.explained()) {
    text +=
        "the plant does not explain this trace: something in it is not in the model, or a value that was not "
        "fitted "
        "is wrong; do not rely on these values\n";
  }
  return text;
}

std::string json_of(const Fit& f) {
  nlohmann::ordered_json j;
  j["explained"] = f.explained();
  j["estimates"] = nlohmann::ordered_json::array();
  for (const Estimate& e : f.estimates) {
    nlohmann::ordered_json one{{"key", e.key->name}, {"told", e.told}};
    if (e.told) {
      one["value"] = e.value;
      one["sd"] = e.sd;
      one["unit"] = si_unit(*e.key);
    } else {
      one["why"] = e.why;
    }
    j["estimates"].push_back(one);
  }
  for (std::size_t c = 0; c < f.misfit.size(); ++c) {
    if (f.misfit[c] > 0.0) {
      j["misfit"][std::string(channel_text(c))] = f.misfit[c];
    }
  }
  return j.dump(2) + "\n";
}

// The scenario's jack with what was told in its place, marked measured.
Scenario with(const Scenario& scenario, const Fit& f, Notes& notes) {
  Scenario s = scenario;
  for (const Estimate& e : f.estimates) {
    const std::string name(e.key->name);
    if (e.told && belongs_to_jack(*e.key)) {
      e.key->value(s) = e.value;
      std::erase(s.measured, name);
      s.measured.push_back(name);
      notes[name] = "+- " + value_text(*e.key, 2.0 * e.sd, 2) + ", fitted";
    } else if (!e.told) {
      notes[name] = "the trace can not tell: " + e.why;
    }
  }
  return s;
}

}  // namespace

int fit(const Scenario& scenario, const FitChoice& choice) {
  const Recording recording = read_recording(choice.trace, scenario, choice.seconds);
  const Fit f = fit_jack(recording, scenario, !choice.bed, [](unsigned step, double misfit) {
    std::fprintf(stderr, "\rstep %u, what is left is %.3f times the noise   ", step, misfit);
  });
  std::fputs("\n", stderr);
  std::fputs((choice.json ? json_of(f) : text_of(f, recording)).c_str(), stdout);
  const bool told =
      std::all_of(f.estimates.begin(), f.estimates.end(), [](const Estimate& e) { return e.told; });
  if (!choice.out.empty() && f.explained()) {
    Notes notes;
    Scenario fitted = with(scenario, f, notes);
    fitted.jack_simulated = recording.simulated;
    write_file(choice.out, file_text(fitted, notes, "# A jack, fitted to " + choice.trace + ".\n"));
    std::fprintf(stderr, "written: %s; name it in a scenario as jack_file\n", choice.out.c_str());
  }
  return told && f.explained() ? 0 : 1;
}

std::string jack_text(const Scenario& scenario) {
  return file_text(scenario, {}, "");
}

}  // namespace strandproof::sim
