#include "host-tool/archive/record_csv.hpp"

#include <fmt/core.h>

#include <map>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/text.hpp"
#include "proto/peer/rows.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::archive {
namespace {

constexpr const char* header =
    "jack,origin,boot,sequence,tick_ms,kind,utc,clock,instruction,what,cause,load_state,bed,bed_name,"
    "position,"
    "strand,reel,table_revision,settings_revision,initial_n,seated_n,jack_n,limit_n,settle_n,peak_n,locked_n,"
    "elongation_um,elongation_min_um,elongation_max_um,draw_in_um,top_ups,stiffness_seen_n_per_m,duration_ms,"
    "uncertainty_ppm,force_n,stroke_um,detail,limit,value,strokes,stroke_ends_n,stroke_draw_ins_um,lift_offs_"
    "n";

std::string quoted(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? std::string{"\"\""} : std::string{c};
  return out + '"';
}

// Fields one after another; `none` leaves columns empty.
class Line {
 public:
  Line& text(const std::string& value) { return raw(quoted(value)); }
  template <class Number>
  Line& number(Number value) {
    return raw(std::to_string(value));
  }
  Line& none(int columns) {
    for (int i = 0; i < columns; ++i) raw("");
    return *this;
  }
  [[nodiscard]] std::string done() const { return line_ + "\r\n"; }

 private:
  Line& raw(const std::string& field) {
    if (!first_) line_ += ',';
    first_ = false;
    line_ += field;
    return *this;
  }
  std::string line_;
  bool first_ = true;
};

std::string time_text(std::uint64_t utc_s) {
  return utc_s == 0 ? "" : format_time(static_cast<std::int64_t>(utc_s));
}

std::string origin_text(std::uint32_t origin) {
  return origin == 0 ? "not known" : texts::origin(origin);
}

void begin(Line& line, const StoredRecord& r, std::uint32_t origin) {
  line.number(r.device).text(origin_text(origin)).number(r.boot).number(r.sequence).number(r.tick_ms);
}

// "53000 94600": one field of a column for as many strokes as there are.
std::string column(const std::vector<proto::Row>& rows, std::size_t which) {
  std::string text;
  for (const proto::Row& row : rows) text += (text.empty() ? "" : " ") + std::to_string(row[which]);
  return text;
}

void pull(Line& line, const wire::PullRecord& p) {
  line.text("pull").text(time_text(p.utc_s())).text(texts::clock_quality(p.clock_quality()));
  line.number(p.instruction()).text(texts::verdict(p.verdict())).text(texts::cause(p.cause()));
  line.text(texts::load(p.load_state())).number(p.bed()).text(shown(p.bed_name())).number(p.position());
  line.text(shown(p.strand_name(), 64))
      .number(p.reel())
      .number(p.table_revision())
      .number(p.settings_revision());
  for (const auto n : {p.initial_n(), p.seated_n(), p.jack_n(), p.limit_n()}) line.number(n);
  for (const auto n : {p.settle_n(), p.peak_n(), p.locked_n(), p.elongation_um()}) line.number(n);
  line.number(p.elongation_min_um()).number(p.elongation_max_um()).number(p.draw_in_um());
  line.number(p.top_ups()).number(p.stiffness_seen_n_per_m()).number(p.duration_ms());
  line.number(p.uncertainty_ppm()).none(5).number(p.strokes() == 0 ? 1U : p.strokes());
  const auto rows = proto::rows_of(p.stroke_rows(), 3).value_or(std::vector<proto::Row>{});
  for (const std::size_t which : {0U, 1U, 2U}) line.text(column(rows, which));
}

void event(Line& line, const wire::EventRecord& e) {
  line.text("event").text(time_text(e.utc_s())).text(texts::clock_quality(e.clock_quality()));
  line.number(e.instruction()).text(texts::event(e.code())).text(texts::cause(e.cause()));
  line.text(texts::load(e.load_state())).none(22);
  line.number(e.force_n())
      .number(e.stroke_um())
      .number(e.detail())
      .number(e.limit())
      .number(e.value())
      .none(4);
}

}  // namespace

std::string csv_header() {
  return std::string{header} + "\r\n";
}

std::string csv_line(const StoredRecord& stored, std::uint32_t origin) {
  Line line;
  wire::Record r;
  const bool readable = r.ParseFromString(stored.body);
  begin(line, stored, readable && r.has_pull() ? r.pull().origin() : origin);
  if (readable && r.has_pull()) {
    pull(line, r.pull());
  } else if (readable && r.has_event()) {
    event(line, r.event());
  } else if (readable && r.has_checkpoint()) {
    const auto& k = r.checkpoint();
    line.text("checkpoint").text(time_text(k.utc_s())).text(texts::clock_quality(k.clock_quality())).none(35);
  } else if (readable && r.has_curve()) {
    line.text("curve").none(2).number(r.curve().instruction()).none(34);
  } else if (readable && r.has_snapshot()) {
    line.text("snapshot")
        .none(3)
        .text("part " + std::to_string(r.snapshot().part()))
        .text(texts::cause(r.snapshot().cause()))
        .none(32);
  } else {
    line.text("not readable").none(37);
  }
  return line.done();
}

std::string csv_of(const Archive& archive, const Filter& filter) {
  std::map<std::uint32_t, std::uint32_t> origins;
  for (const auto device : archive.devices()) {
    const auto seen = archive.seen(device);
    origins[device] = seen.empty() ? 0 : seen.back().origin;
  }
  std::string text = csv_header();
  archive.each(filter, [&](const StoredRecord& r) { text += csv_line(r, origins[r.device]); });
  return text;
}

}  // namespace strandproof::host::archive
