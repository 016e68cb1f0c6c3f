// Commands about the line and the jack at its end: ports, identify, pair, clock.
#include <fmt/core.h>

#include <ctime>
#include <filesystem>

#include "host-tool/archive/place.hpp"
#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/cli/connect.hpp"

namespace strandproof::host::cli {

Connection connect(const Common& common, link::SessionOptions options) {
  auto keys = keys::load(common.keys);
  options.tell = [](const std::string& news) { fmt::print(stderr, "{}\n", news); };
  auto session = std::make_unique<link::Session>(link::choose_port(common.port), keys, options);
  return {std::move(keys), std::move(session)};
}

archive::Archive open_archive(const Common& common) {
  return archive::Archive{common.archive,
                          {.tell = [](const std::string& news) { fmt::print(stderr, "{}\n", news); }}};
}

bool holds_an_archive(const Common& common) {
  return common.archive.find("://") != std::string::npos || std::filesystem::exists(common.archive);
}

void demand_archive(const Common& common) {
  archive::demand_clear_address(common.archive);
  if (!holds_an_archive(common))
    throw bad_input(
        fmt::format("{}: no archive there; name another with --archive, or fetch one: strandproof "
                    "log fetch",
                    common.archive));
}

Exit ports(const Common& common) {
  const auto found = link::find_ports();
  if (common.json) {
    fmt::print("[");
    for (std::size_t i = 0; i < found.size(); ++i) {
      fmt::print("{}{{\"port\":\"{}\",\"free\":{}}}", i == 0 ? "" : ",", found[i].name, found[i].free);
    }
    fmt::print("]\n");
    return Exit::good;
  }
  for (const auto& port : found) fmt::print("{:<50} {}\n", port.name, port.state);
  if (found.empty()) fmt::print("no port found; plug the cable in, or start the simulated jack\n");
  return found.empty() ? Exit::refused : Exit::good;
}

Exit identify(const Common& common) {
  auto c = connect(common);
  const auto& i = c.session->identify();
  if (common.json) {
    fmt::print(
        "{{\"jack\":{},\"origin\":\"{}\",\"build\":\"{}\",\"table_revision\":{},\"settings_revision\":{},"
        "\"boot\":{},"
        "\"first_record\":{},\"last_record\":{},\"pulls_left\":{},\"paired\":{}}}\n",
        i.jack_serial(), texts::origin(i.origin()), shown(i.build()), i.table_revision(),
        i.settings_revision(), i.boot(), i.first_record(), i.last_record(), i.pulls_left(), i.paired());
    return Exit::good;
  }
  fmt::print("jack {} ({}), firmware {}, protocol {}.{}, boot {}\n", i.jack_serial(),
             texts::origin(i.origin()), shown(i.build()), i.protocol_major(), i.protocol_minor(), i.boot());
  fmt::print("sensors {} and {}, stroke {}\n", i.sensor_a_serial(), i.sensor_b_serial(),
             i.stroke_sensor_serial());
  fmt::print("gauge table {}, settings revision {}, records {} to {}, room for at least {} more pulls\n",
             i.table_revision() == 0 ? "none" : fmt::format("revision {}", i.table_revision()),
             i.settings_revision(), i.first_record(), i.last_record(), i.pulls_left());
  fmt::print("this host is {}\n",
             i.paired() ? "paired" : "not paired: choose PAIR A HOST at the pendant, then `pair`");
  return Exit::good;
}

Exit pair(const Common& common) {
  auto c = connect(common);
  c.session->peer().on_check = [](std::uint32_t check) {
    fmt::print("the pendant must show {}; if it does, confirm there, if not, reset there\n", check);
    std::fflush(stdout);
  };
  c.session->must([](proto::Peer& p, proto::Peer::Done done) { p.pair(std::move(done)); });
  fmt::print(
      "paired: this host may send instructions and settings to jack {}; gauge tables need a table key: "
      "strandproof key enrol\n",
      c.session->peer().identity()->jack_serial());
  return Exit::good;
}

Exit clock(const Common& common, bool set) {
  auto c = connect(common);
  if (set) {
    const auto utc = static_cast<std::uint64_t>(std::time(nullptr));
    c.session->must([&](proto::Peer& p, proto::Peer::Done done) { p.set_clock(utc, std::move(done)); });
  }
  c.session->must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
  const auto& s = *c.session->peer().status();
  if (common.json) {
    fmt::print("{{\"utc_s\":{},\"quality\":\"{}\"}}\n", s.utc_s(), texts::clock_quality(s.clock_quality()));
    return Exit::good;
  }
  fmt::print("jack's clock: {} ({})\n",
             s.utc_s() == 0 ? "never set" : format_time(static_cast<std::int64_t>(s.utc_s())),
             texts::clock_quality(s.clock_quality()));
  return Exit::good;
}

}  // namespace strandproof::host::cli
