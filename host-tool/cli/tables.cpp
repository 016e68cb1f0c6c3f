#include "host-tool/cli/tables.hpp"

#include <fmt/core.h>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/doubt.hpp"
#include "host-tool/check/held_bytes.hpp"

namespace strandproof::host::cli {

const wire::Tables& read_tables(Connection& c) {
  c.session->must([](proto::Peer& p, proto::Peer::Done done) { p.read_tables(std::move(done)); });
  return *c.session->peer().tables();
}

std::uint32_t active_slot(const wire::Tables& tables, std::uint32_t jack) {
  if (tables.active() == 1 || tables.active() == 2) return tables.active();
  throw refused(fmt::format("jack {} works with no gauge table; load one: strandproof gauge load", jack));
}

const wire::TableSlot& slot(const wire::Tables& tables, std::uint32_t number) {
  return number == 1 ? tables.slot_a() : tables.slot_b();
}

std::string read_slot(Connection& c, std::uint32_t number, const wire::TableSlot& s) {
  c.session->must(
      [&](proto::Peer& p, proto::Peer::Done done) { p.read_table(number, s.length(), std::move(done)); });
  const auto& held = c.session->peer().held().bytes;
  std::string bytes(held.begin(), held.end());
  if (sha256_hex(bytes) != to_hex(s.sha256())) {
    throw refused(
        fmt::format("slot {}: the bytes that were read are not those that the jack names; read again, "
                    "and if it stays, load the table again with a higher revision",
                    number == 1 ? 'A' : 'B'));
  }
  return bytes;
}

gauge::HeldTable read_active(Connection& c, std::uint32_t& revision) {
  const std::uint32_t jack = c.session->identify().jack_serial();
  const wire::Tables tables = read_tables(c);
  const std::uint32_t number = active_slot(tables, jack);
  revision = slot(tables, number).revision();
  const auto table = check::from_held_bytes(read_slot(c, number, slot(tables, number)));
  if (!table) throw bad_input("the jack's active table can not be read by this program; use a newer one");
  return *table;
}

std::string grouped(const std::string& fingerprint) {
  if (fingerprint.empty()) return "none";
  std::string text;
  for (std::size_t i = 0; i < fingerprint.size(); i += 2) {
    if (i != 0) text += ' ';
    text += to_hex(fingerprint.substr(i, 2));
  }
  return text;
}

std::uint32_t chosen_jack(const archive::Archive& kept, std::uint32_t named) {
  if (named != 0) return named;
  const auto devices = kept.devices();
  if (devices.size() == 1) return devices.front();
  throw bad_input(fmt::format("the archive knows {} jacks; name the one that is meant with --jack SERIAL",
                              devices.size()));
}

std::string days_left(std::int64_t due_s, std::int64_t now_s) {
  constexpr std::int64_t day = 86400;
  return due_s >= now_s ? fmt::format("{} days left", (due_s - now_s) / day)
                        : fmt::format("OVERDUE by {} days", (now_s - due_s) / day);
}

std::size_t print_doubt(const archive::Archive& kept, std::uint32_t device) {
  const auto found = check::doubtful_pulls(kept, device);
  for (const auto& p : found) {
    fmt::print("calibration in doubt: bed {} \"{}\" position {:>2}, reel {}, {}, {}, record {}: {}{}\n",
               p.bed, shown(p.bed_name), p.position, p.reel,
               p.utc_s == 0 ? "clock not set" : format_time(p.utc_s), texts::verdict(p.verdict), p.sequence,
               p.reason, p.signed_off.empty() ? ", not signed off" : ", SIGNED OFF " + p.signed_off);
  }
  return found.size();
}

}  // namespace strandproof::host::cli
