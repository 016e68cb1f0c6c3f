// An archive of two beds that one jack pulled, with everything that a bundle can hold: the log sealed by the
// firmware's own chain, a table fitted to runs and signed, plans, entries. Figures are invented.
#pragma once

#include "host-tool/archive/archive.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/bundle/bundle.hpp"
#include "host-tool/bundle/collect.hpp"
#include "host-tool/bundle/page.hpp"
#include "host-tool/bundle/page_template.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/gauge/pairs.hpp"
#include "host-tool/proof/table_signature.hpp"
#include "tests/host/chain_maker.hpp"
#include "tests/host/rig_text.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::bundle {

inline constexpr std::uint32_t sample_jack = 1001;
inline constexpr std::int64_t sample_s = 1'800'000'000;
inline constexpr const char* sample_plan = "[bed]\nnumber = 1\nname = \"<Line & 1>\"\n";

inline std::string sample_runs() {
  return test::ideal_jack(3);
}

inline std::string sample_pairs() {
  std::string text = "channel,direction,pressure_mpa,force_kn\n";
  for (const char* channel : {"A", "B"}) {
    for (int i = 1; i <= 5; ++i) text += fmt::format("{},up,{},{}\n", channel, 6 * i, 30 * i);
  }
  return text;
}

inline gauge::Table sample_import() {
  return gauge::read_pairs(sample_pairs(), "pairs.csv", {},
                           {"a laboratory",
                            "C-17",
                            sample_jack,
                            {2001, 2002},
                            gauge::Origin::simulated,
                            sample_s,
                            sample_s + 8'000'000,
                            8000,
                            10});
}

inline gauge::HeldTable sample_held(const std::string& json) {
  return gauge::from_json(json, "sample");
}

inline wire::PullInstruction sample_instruction(std::uint32_t id, std::uint32_t bed, std::uint32_t position) {
  wire::PullInstruction m;
  m.set_id(id);
  m.set_bed(bed);
  m.set_position(position);
  m.set_bed_name(bed == 1 ? "<Line & 1>" : "Line 2");
  m.set_strand_name("12.9 mm Y1860S7");
  m.set_reel(118);
  m.set_jack_serial(sample_jack);
  m.set_initial_n(15'000);
  m.set_seated_n(128'000);
  m.set_jack_n(130'000);
  m.set_limit_n(142'000);
  m.set_stiffness_n_per_m(320'000);
  m.set_elongation_um(360'000);
  m.set_elongation_min_um(342'000);
  m.set_elongation_max_um(378'000);
  m.set_force_window_ppm(50'000);
  return m;
}

inline wire::Record sample_pull(const wire::PullInstruction& i, std::uint32_t origin) {
  wire::Record r;
  wire::PullRecord& p = *r.mutable_pull();
  p.set_instruction(i.id());
  p.set_bed(i.bed());
  p.set_position(i.position());
  p.set_bed_name(i.bed_name());
  p.set_strand_name(i.strand_name());
  p.set_reel(i.reel());
  p.set_jack_serial(sample_jack);
  p.set_table_revision(2);
  p.set_origin(origin);
  p.set_verdict(1);
  p.set_load_state(2);
  p.set_initial_n(i.initial_n());
  p.set_seated_n(i.seated_n());
  p.set_jack_n(i.jack_n());
  p.set_limit_n(i.limit_n());
  p.set_elongation_plan_um(i.elongation_um());
  p.set_elongation_min_um(i.elongation_min_um());
  p.set_elongation_max_um(i.elongation_max_um());
  p.set_force_window_ppm(i.force_window_ppm());
  p.set_settle_n(130'020);
  p.set_locked_n(128'640);
  p.set_elongation_um(360'400);
  p.set_draw_in_um(4'000);
  p.set_uncertainty_ppm(8'000);
  p.set_utc_s(sample_s + i.id());
  p.set_clock_quality(1);
  for (const int um : {0, 180'000, 180'400}) p.add_curve_um(um);
  for (const int n : {15'000, 57'000, 57'900}) p.add_curve_n(n);
  return r;
}

struct SampleOptions {
  std::uint32_t origin = 1;
  bool runs = true;       // kept with the table
  bool new_kind = false;  // a record of a kind that this program does not know
  bool small = false;     // one pull of one bed, on an imported table
};

// Records 1 to 5: boot, three events, pairing and its checkpoint; then pulls with a checkpoint each.
class Sample {
 public:
  Sample(const std::string& folder, const SampleOptions& o = {}) : folder_{folder} {
    kept = std::make_unique<archive::Archive>(folder + "/archive.sqlite");
    make_log(o);
    const auto records = jack.records();
    for (const auto& r : records)
      kept->add(std::vector<archive::StoredRecord>{{sample_jack, r.boot, r.sequence, r.tick_ms, r.body}});
    add_table(o);
    kept->add(archive::JackSeen{sample_jack, sample_s, "0.1.0 test", o.origin, "1.4", 3, 2, 0});
    kept->add(archive::Entry{.at_s = sample_s, .by = "crew lead", .bed = 1, .words = "wedge <cleaned>"});
    kept->add(archive::Entry{.at_s = sample_s, .by = "crew lead", .bed = 2, .words = "secret of bed two"});
    kept->add(
        archive::Entry{.at_s = sample_s, .by = "engineer", .device = sample_jack, .words = "jack inspected"});
    const auto report = proof::verify(proof::question_of(jack, records));
    EXPECT_TRUE(report.findings.empty());
    proof::save_head(folder + "/keys", {*report.head, {}});
  }

  // As a host that holds the head, with or without giving its keys of tags away.
  [[nodiscard]] Host host(bool with_keys = false) const {
    Host h{proof::maker_host, {}, folder_ + "/keys"};
    if (with_keys) h.key = proof::HostKey{proof::maker_host, proto::chain_key(proof::counting_key(7))};
    return h;
  }
  [[nodiscard]] Data data(const Scope& scope = {.bed = 1}, bool with_keys = false) const {
    return collect(*kept, scope, host(with_keys));
  }

  proof::ChainMaker jack{sample_jack};
  std::unique_ptr<archive::Archive> kept;
  std::string json;  // of the table

 private:
  void make_log(const SampleOptions& o) {
    jack.event(2);
    jack.pair(proof::counting_key(7));
    if (o.new_kind) {
      wire::Record r;  // field 14 is reserved: no jack of today writes it
      r.GetReflection()->MutableUnknownFields(&r)->AddLengthDelimited(14, "hi");
      jack.put(r);
    }
    pull(1, 1, 1, o.origin);
    if (!o.small) {
      pull(2, 1, 2, o.origin);
      pull(3, 2, 1, o.origin);
      jack.event(3);
    }
  }
  void pull(std::uint32_t id, std::uint32_t bed, std::uint32_t position, std::uint32_t origin) {
    const auto i = sample_instruction(id, bed, position);
    jack.event(16);
    jack.put(sample_pull(i, origin));
    jack.checkpoint();
    kept->add(archive::SentInstruction{sample_jack, id, bed, position, i.SerializeAsString(), sample_s,
                                       kept->keep("plan.toml", sample_plan, sample_s)});
  }
  void add_table(const SampleOptions& o) {
    const std::string name = o.small ? "pairs.csv" : "runs.csv";
    const std::string text = o.small ? sample_pairs() : sample_runs();
    json = gauge::to_json(o.small ? sample_import() : gauge::make_table(gauge::read_runs(text, name), {}),
                          {name, sha256_hex(text)});
    if (o.runs) kept->keep(name, text, sample_s);
    const std::string bytes = check::held_bytes(sample_held(json), 2);
    const proto::TableKey key{proof::counting_key(50)};
    const proof::TableSignature signature{
        key.public_key(), key.sign({reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()})};
    const std::string digest = sha256_hex(bytes);
    kept->add({sample_jack, 2, digest, json, sample_s},
              {sample_jack, archive::Act::loaded, sample_s, "calibration technician", "first", 2, digest, "",
               3, 0, proof::text_of(signature)});
  }
  std::string folder_;
};

// The file that somebody makes of other data with this program's own means, and with a page that says what
// the proof says.
inline std::string forged(const Data& data, const Proof& claimed) {
  const std::string text = to_text(data);
  return page_of(data, claimed, sha256_hex(text)) + data_begin + text + data_end;
}

inline std::string told(const Examined& e) {
  std::string all;
  for (const auto& line : e.changed) all += line + "\n";
  for (const auto& line : e.proof.faults) all += line + "\n";
  return all;
}

}  // namespace strandproof::host::bundle
