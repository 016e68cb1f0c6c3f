// Commands about the records that are held: show, find, csv; and decode, for what was captured on the line.
#include <fmt/core.h>
#include <google/protobuf/util/json_util.h>

#include <algorithm>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/record_csv.hpp"
#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/archive_words.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/cli/record_lines.hpp"
#include "host-tool/report/lines.hpp"
#include "host-tool/report/pull_curve.hpp"
#include "host-tool/report/trip_snapshot.hpp"
#include "proto/frame.hpp"

namespace strandproof::host::cli {
namespace {

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

}  // namespace

// One JSON object a line, fields as wire.proto names them; 64-bit numbers are texts there.
void print_record_json(const archive::StoredRecord& stored) {
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

void print_record(const archive::StoredRecord& r) {
  fmt::print("{:>6} jack {} boot {} {:>10.3f} s  {}\n", r.sequence, r.device, r.boot,
             static_cast<double>(r.tick_ms) / 1e3, report::record_line(r.body));
}

Exit log_show(const Common& common, bool curves) {
  LogFind all;
  all.curves = curves;
  return log_find(common, all);
}

// Showing makes no archive.
Exit log_find(const Common& common, const LogFind& o) {
  demand_archive(common);
  std::size_t found = 0;
  const auto aside = open_archive(common);  // the other one still answers while a record is shown
  open_archive(common).each(filter_of(o), [&](const archive::StoredRecord& r) {
    ++found;
    if (common.json) {
      print_record_json(r);
      return;
    }
    print_record(r);
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
