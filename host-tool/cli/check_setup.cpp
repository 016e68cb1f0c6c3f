#include <fmt/core.h>

#include <ctime>
#include <functional>
#include <nlohmann/json.hpp>

#include "host-tool/archive/archive.hpp"
#include "host-tool/cli/connect.hpp"

namespace strandproof::host::cli {

// Each item is tried for real; what fails says its remedy. Later items that need an earlier one are skipped.
Exit check_setup(const Common& common) {
  bool all = true;
  auto told = nlohmann::ordered_json::array();
  const auto tell = [&](bool good, const char* name, const std::string& text) {
    told.push_back({{"item", name}, {"good", good}, {"text", text}});
    if (!common.json) fmt::print("{} {:<10} {}\n", good ? "ok   " : "WRONG", name, text);
  };
  const auto item = [&](const char* name, const std::function<std::string()>& attempt) {
    try {
      tell(true, name, attempt());
      return true;
    } catch (const Problem& p) {
      tell(false, name, p.what());
      all = false;
      return false;
    }
  };
  const bool keys = item("keys", [&] { return fmt::format("host \"{}\"", keys::load(common.keys).name); });
  item("archive", [&] {
    const auto kept = open_archive(common);
    return fmt::format("{}, {} records", kept.shown_place(), kept.count());
  });
  item("clock", [] {
    constexpr std::time_t made = 1'772'000'000;  // this program was not written before it
    if (std::time(nullptr) < made)
      throw bad_input("this computer's clock is wrong; set it before it sets a jack's");
    return std::string{"of this computer plausible"};
  });
  const bool port = item("port", [&] { return link::choose_port(common.port); });
  if (keys && port) {
    item("jack", [&] {
      auto c = connect(common);
      const auto& i = c.session->identify();
      if (!i.paired()) {
        throw refused(fmt::format(
            "jack {} answers, but this host is not paired: choose PAIR A HOST at the pendant, then `pair`",
            i.jack_serial()));
      }
      return fmt::format("{} answers, paired, table revision {}", i.jack_serial(), i.table_revision());
    });
  }
  if (common.json) fmt::print("{}\n", told.dump());
  return all ? Exit::good : Exit::refused;
}

}  // namespace strandproof::host::cli
