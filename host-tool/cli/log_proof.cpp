// The log's chain on the command line: log verify, log accept.
#include <fmt/core.h>

#include <ctime>
#include <filesystem>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/fetch/guard.hpp"

namespace strandproof::host::cli {
namespace {

using fetch::line_of;
using fetch::proof_key;
using fetch::stored_since;

std::optional<proof::Head> head_of(const std::optional<proof::HeldHead>& held) {
  return held ? std::optional{held->head} : std::nullopt;
}

void print_report(const proof::Report& r, std::uint32_t device) {
  for (const proof::Finding& f : r.findings) {
    fmt::print("jack {}: {}\n", device, line_of(f));
  }
  fmt::print("jack {}: {} records, {} signed checkpoints, {} tags checked", device, r.records, r.checkpoints,
             r.tags_checked);
  if (r.tags_unknown != 0) {
    fmt::print(", {} of epochs whose key this host does not have", r.tags_unknown);
  }
  fmt::print("\n");
  if (r.begins_at) {
    fmt::print("jack {}: begins with record {}, which nothing before it proves\n", device, *r.begins_at);
  }
  if (r.findings.empty() && r.head) {
    fmt::print("{}\n", proof::head_line(*r.head));
  }
}

void print_report_json(const proof::Report& r, std::uint32_t device) {
  std::string findings;
  for (const proof::Finding& f : r.findings) {
    findings += fmt::format("{}{{\"record\":{},\"kind\":\"{}\"}}", findings.empty() ? "" : ",", f.sequence,
                            proof::name_of(f.kind));
  }
  fmt::print(
      "{{\"jack\":{},\"records\":{},\"checkpoints\":{},\"tags_checked\":{},\"tags_unknown\":{},\"begins_at\":"
      "{},"
      "\"findings\":[{}]}}\n",
      device, r.records, r.checkpoints, r.tags_checked, r.tags_unknown, r.begins_at.value_or(0), findings);
}

}  // namespace

Exit log_verify(const Common& common) {
  auto archive = open_archive(common);
  std::optional<proof::HostKey> host;
  if (std::filesystem::exists(std::filesystem::path{common.keys} / "pairing.key")) {
    host = proof_key(keys::load(common.keys));
  }
  bool good = true;
  for (const std::uint32_t device : archive.devices()) {
    proof::Question q;
    q.device = device;
    q.records = stored_since(archive, device, 0);
    q.whole = true;
    q.held = head_of(proof::load_head(common.keys, device));
    q.host = host;
    const proof::Report report = proof::verify(q);
    good = good && report.findings.empty();
    common.json ? print_report_json(report, device) : print_report(report, device);
  }
  return good ? Exit::good : Exit::refused;
}

// Reads the whole log of the controller that is there now, by itself. Who accepts it, and both fingerprints,
// enter the archive first; then its head is held in place of the old one.
Exit log_accept(const Common& common, const LogAccept& o) {
  auto c = connect(common);
  const auto& i = c.session->identify();
  const std::uint32_t device = i.jack_serial();
  const auto held = proof::load_head(common.keys, device);
  proof::Follower follower{device, {}, proof_key(c.keys)};
  std::vector<proof::Record> records;
  c.session->peer().on_record = [&](const wire::LogRecord& r) {
    records.push_back({.sequence = r.sequence(), .boot = r.boot(), .tick_ms = r.tick_ms(), .body = r.body()});
  };
  c.session->must(
      [&](proto::Peer& p, proto::Peer::Done done) { p.fetch_log(1, UINT64_MAX, std::move(done)); });
  if (const auto findings = follower.add(std::move(records)); !findings.empty()) {
    throw refused(fmt::format("jack {}: its own log does not hold: {}; nothing is accepted", device,
                              line_of(findings.front())));
  }
  if (!follower.head() || !follower.head()->public_key) {
    throw refused(fmt::format(
        "jack {}: no signed checkpoint yet; leave it at rest for a second and try again", device));
  }
  const std::string now = proof::fingerprint_text(*follower.head()->public_key);
  const std::string before =
      held && held->head.public_key ? proof::fingerprint_text(*held->head.public_key) : "none";
  fmt::print("jack {}: key held {}, key of this controller {}\n", device, before, now);
  std::string typed = o.fingerprint;
  std::erase(typed, ' ');
  std::string wanted = now;
  std::erase(wanted, ' ');
  if (typed != wanted) {
    throw refused(
        "nothing is accepted: give --accept with the key of this controller, once you know that it was "
        "replaced and by whom");
  }
  auto archive = open_archive(common);
  const std::string words = fmt::format("key {} instead of {}, which was held up to record {}: {}", now,
                                        before, held ? held->head.sequence : 0, shown(o.why, 120));
  archive.add(archive::Entry{.kind = archive::EntryKind::enrolment,
                             .at_s = std::time(nullptr),
                             .by = shown(o.by, 40),
                             .device = device,
                             .words = words});
  proof::HeldHead next{*follower.head(), held ? held->replaced : std::vector<std::string>{}};
  if (held) {
    next.replaced.push_back(format_time(std::time(nullptr)) + " by " + shown(o.by, 40) + ": " + words);
  }
  proof::save_head(common.keys, next);
  fmt::print(
      "accepted; use an archive of its own for this controller (--archive): its record numbers begin "
      "again\n");
  return Exit::good;
}

}  // namespace strandproof::host::cli
