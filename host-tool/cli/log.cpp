// Commands about the jack's log: fetch, show; and decode, for what was captured on the line.
#include <fmt/core.h>
#include <google/protobuf/util/json_util.h>

#include <algorithm>
#include <ctime>
#include <filesystem>
#include <utility>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/record_csv.hpp"
#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/archive_words.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/cli/log_proof.hpp"
#include "host-tool/report/lines.hpp"
#include "host-tool/report/pull_curve.hpp"
#include "host-tool/report/trip_snapshot.hpp"
#include "proto/frame.hpp"

namespace strandproof::host::cli {
namespace {

constexpr std::size_t batch = 64;  // records a transaction

using wire::Record;

void print_curve(const archive::Archive& kept, const archive::StoredRecord& stored) {
  Record r;
  if (!r.ParseFromString(stored.body) || !r.has_pull()) return;
  const auto curve = report::curve_of(kept, stored, r.pull());
  for (const auto& p : curve.points) {
    fmt::print("      {:>10} {:>10.3f} mm {:>10.3f} kN\n",
               p.at_ms ? fmt::format("{:.3f} s", *p.at_ms / 1e3) : "",
               static_cast<double>(p.elongation_um) / 1e3, static_cast<double>(p.force_n) / 1e3);
  }
  if (const auto missing = report::missing_points(curve); !missing.empty()) fmt::print("      {}\n", missing);
}

// Below the first part of a snapshot: what the detectors saw, and which samples there are.
void print_snapshot(const archive::Archive& kept, const archive::StoredRecord& stored) {
  Record r;
  if (!r.ParseFromString(stored.body) || !r.has_snapshot() || r.snapshot().part() != 0) return;
  const auto shot = report::snapshot_of(kept, stored);
  for (const auto& line : report::margin_lines(*shot)) fmt::print("      {}\n", line);
  fmt::print("      {}\n", report::samples_text(*shot));
}

// The one record with this number.
archive::StoredRecord record_of(const archive::Archive& kept, const LogFind& o) {
  archive::Filter one;
  if (o.jack != 0) one.device = o.jack;
  one.first = one.last = o.snapshot;
  const auto found = kept.find(one);
  if (found.empty())
    throw bad_input(fmt::format(
        "record {} is not in the archive; fetch the log, or look: strandproof log find", o.snapshot));
  if (found.size() > 1)
    throw bad_input(fmt::format("{} jacks have a record {}; name one with --jack", found.size(), o.snapshot));
  return found.front();
}

Exit sample_csv_to_file(const archive::Archive& kept, const LogFind& o) {
  const auto stored = record_of(kept, o);
  const auto shot = report::snapshot_of(kept, stored);
  if (!shot || shot->samples.empty())
    throw refused(fmt::format(
        "record {}: {}", o.snapshot,
        shot ? report::samples_text(*shot)
             : "no snapshot belongs to it; name the record of a trip: strandproof log find --event trip"));
  const auto seen = kept.seen(stored.device);
  const std::string origin =
      seen.empty() || seen.back().origin == 0 ? "not known" : texts::origin(seen.back().origin);
  write_output(o.output, report::sample_csv(*shot, stored, origin), report::sample_csv_header(),
               "a CSV of samples");
  fmt::print("written: {} ({})\n", o.output, report::samples_text(*shot));
  return Exit::good;
}

// One JSON object a line, fields as wire.proto names them; 64-bit numbers are texts there.
void print_json(const archive::StoredRecord& stored) {
  Record r;
  std::string body = "null";
  if (r.ParseFromString(stored.body)) {
    google::protobuf::util::JsonPrintOptions options;
    options.preserve_proto_field_names = true;
    body.clear();
    (void)google::protobuf::util::MessageToJsonString(r, &body, options);
  }
  fmt::print("{{\"jack\":{},\"boot\":{},\"sequence\":{},\"tick_ms\":{},\"record\":{}}}\n", stored.device,
             stored.boot, stored.sequence, stored.tick_ms, body);
}

archive::JackSeen seen_now(const wire::Identity& i) {
  return {i.jack_serial(),
          std::time(nullptr),
          shown(i.build(), 64),
          i.origin(),
          fmt::format("{}.{}", i.protocol_major(), i.protocol_minor()),
          i.settings_revision(),
          i.table_revision(),
          0};
}

}  // namespace

Exit log_fetch(const Common& common) {
  auto c = connect(common);
  auto kept = open_archive(common);
  const auto& i = c.session->identify();
  kept.add(seen_now(i));
  const std::uint64_t known = kept.last_sequence(i.jack_serial());
  if (i.last_record() < known) {
    throw refused(fmt::format(
        "jack {} holds records up to {}, archive {} already up to {}: its memory was renewed; keep this "
        "archive, use another one (--archive) and report it",
        i.jack_serial(), i.last_record(), common.archive, known));
  }
  // From the newest that is held: it is compared, so that another memory under the same serial is noticed.
  const std::uint64_t from = std::max<std::uint64_t>(known, 1);
  std::vector<archive::StoredRecord> waiting;
  archive::Added total{0, 0};
  Guard guard{common.keys, c.keys, kept, i.jack_serial()};
  const auto store = [&] {
    guard.check(waiting);
    const auto added = kept.add(waiting);
    total.added += added.added;
    total.already_held += added.already_held;
    guard.keep();
    waiting.clear();
  };
  c.session->peer().on_record = [&](const wire::LogRecord& r) {
    waiting.push_back({i.jack_serial(), r.boot(), r.sequence(), r.tick_ms(), r.body()});
    if (waiting.size() >= batch) {
      store();
      fmt::print(stderr, "\r{} records", total.added);
    }
  };
  bool told = false;
  c.session->peer().on_log_waits = [&told] {
    if (!std::exchange(told, true))
      fmt::print(stderr, "the jack moves oil; its log comes when it rests (Ctrl-C ends the wait)\n");
  };
  if (i.last_record() >= from) {
    c.session->must(
        [&](proto::Peer& p, proto::Peer::Done done) { p.fetch_log(from, UINT64_MAX, std::move(done)); });
  }
  store();
  guard.finish();
  // Only what is durable here may be freed there.
  const std::uint64_t held = kept.last_sequence(i.jack_serial());
  const auto& now = *c.session->peer().identity();
  if (held != 0 && now.paired()) {
    c.session->must(
        [&](proto::Peer& p, proto::Peer::Done done) { p.release_records(held, std::move(done)); });
  }
  c.session->must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
  const std::uint32_t pulls_left = c.session->peer().status()->pulls_left();
  if (common.json) {
    fmt::print("{{\"jack\":{},\"added\":{},\"last_record\":{},\"pulls_left\":{}}}\n", i.jack_serial(),
               total.added, held, pulls_left);
  } else {
    fmt::print(
        "jack {}: {} new records; the archive holds up to record {}; the jack has room for at least {} more "
        "pulls\n",
        i.jack_serial(), total.added, held, pulls_left);
  }
  return Exit::good;
}

Exit log_show(const Common& common, bool curves) {
  LogFind all;
  all.curves = curves;
  return log_find(common, all);
}

// Showing makes no archive.
Exit log_find(const Common& common, const LogFind& o) {
  if (!std::filesystem::exists(common.archive))
    throw bad_input(
        fmt::format("{}: no archive there; name another with --archive, or fetch one: strandproof "
                    "log fetch",
                    common.archive));
  std::size_t found = 0;
  const auto aside = open_archive(common);  // the other one still answers while a record is shown
  open_archive(common).each(filter_of(o), [&](const archive::StoredRecord& r) {
    ++found;
    if (common.json) {
      print_json(r);
      return;
    }
    fmt::print("{:>6} jack {} boot {} {:>10.3f} s  {}\n", r.sequence, r.device, r.boot,
               static_cast<double>(r.tick_ms) / 1e3, report::record_line(r.body));
    if (o.curves) print_curve(aside, r);
    print_snapshot(aside, r);
  });
  if (found == 0) fmt::print(stderr, "no record of the archive is so\n");
  return Exit::good;
}

Exit log_csv(const Common& common, const LogFind& o) {
  if (o.snapshot != 0) return sample_csv_to_file(open_archive(common), o);
  const std::string text = archive::csv_of(open_archive(common), filter_of(o));
  write_output(o.output, text, archive::csv_header(), "a CSV of records");
  fmt::print("written: {} ({} records)\n", o.output, std::count(text.begin(), text.end(), '\n') - 1);
  return Exit::good;
}

}  // namespace strandproof::host::cli
