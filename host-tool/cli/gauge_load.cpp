// Commands that change which gauge table the jack works with: load, undo.
#include <fmt/core.h>

#include <ctime>
#include <filesystem>
#include <optional>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/doubt.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/check/same.hpp"
#include "host-tool/check/spot.hpp"
#include "host-tool/cli/tables.hpp"
#include "host-tool/gauge/held_check.hpp"
#include "host-tool/keys/table_key.hpp"
#include "host-tool/proof/table_signature.hpp"

namespace strandproof::host::cli {
namespace {

// Asked before anything is sent: the jack would refuse as well, but here the file can be named.
void check_identity(const gauge::HeldTable& t, const wire::Identity& i, const std::string& file) {
  if (t.jack_serial != i.jack_serial()) {
    throw refused(fmt::format("{}: made for jack {}, this is jack {}; calibrate this jack", file,
                              t.jack_serial, i.jack_serial()));
  }
  if (t.sensor_serial[0] != i.sensor_a_serial() || t.sensor_serial[1] != i.sensor_b_serial()) {
    throw refused(
        fmt::format("{}: made with sensors {} and {}, this jack has {} and {}; calibrate again with them",
                    file, t.sensor_serial[0], t.sensor_serial[1], i.sensor_a_serial(), i.sensor_b_serial()));
  }
  if (static_cast<std::uint32_t>(t.origin) != i.origin()) {
    throw refused(fmt::format("{}: origin of its runs: {}, of this jack: {}; calibrate on this jack", file,
                              texts::origin(static_cast<std::uint32_t>(t.origin)),
                              texts::origin(i.origin())));
  }
}

// The jack bars what was calibrated before the change; here the file and the part can be named.
void check_parts(const archive::Archive& kept, const wire::Tables& t, std::uint32_t jack,
                 const std::string& json, const std::string& file) {
  if (t.voided_part() == 0) return;
  for (const auto revision : {t.slot_a().revision(), t.slot_b().revision()}) {
    const auto loaded = kept.table(jack, revision);
    if (loaded && check::same_calibration(loaded->json, json)) {
      throw refused(
          fmt::format("{}: made before this part was changed: {}; calibrate with the parts as they are "
                      "now",
                      file, texts::part(t.voided_part())));
    }
  }
}

// What the jack has withdrawn or voided it knows itself, though this archive may not: only a later
// calibration mends it, and not its own points under a later date.
void check_state(Connection& c, const wire::Tables& t, const gauge::HeldTable& table,
                 const std::string& file) {
  if (t.active() == 0 || (t.withdrawn_reason() == 0 && t.voided_part() == 0)) return;
  const auto active = static_cast<std::int64_t>(slot(t, t.active()).calibrated_s());
  const auto held = check::from_held_bytes(read_slot(c, t.active(), slot(t, t.active())));
  const bool later = table.calibrated_s > active;
  if (later && !(held && check::same_points(table, *held))) return;
  const std::string why = t.withdrawn_reason() != 0
                              ? "was withdrawn: " + texts::reason(t.withdrawn_reason())
                              : "is void, part changed: " + texts::part(t.voided_part());
  throw refused(fmt::format("{}: {} the table of {} that {}; calibrate the jack and load what comes of it",
                            file, later ? "has the points of" : "calibrated no later than",
                            format_time(active), why));
}

// The new calibration has just checked the table in use. What was pulled on a wrong one is to be listed, and
// that takes its withdrawal, which is of the table in use: so before this load.
void check_against_active(Connection& c, const wire::Tables& t, const gauge::HeldTable& table,
                          const std::string& file) {
  if (t.active() == 0 || t.withdrawn_reason() != 0 || t.voided_part() != 0) return;
  const auto& s = slot(t, t.active());
  const auto held = check::from_held_bytes(read_slot(c, t.active(), s));
  if (!held || held->sensor_serial != table.sensor_serial) return;
  const double off = check::largest_difference(table, *held);
  const std::string found =
      fmt::format("{} finds table revision {} wrong by {:.2f} %", file, s.revision(), 100.0 * off);
  if (off > check::withdraw_ratio) {
    throw refused(found +
                  ", more than 2 %: one of the two is wrong; look at the runs, and if the table in use is, "
                  "withdraw it first, which lists its strands: strandproof gauge withdraw --reason "
                  "failed-check");
  }
  if (!check::confirms(table, *held))
    fmt::print(stderr,
               "warning: {}, more than its stated uncertainty; what was pulled on it since its last passed "
               "check is listed if this table is withdrawn one day\n",
               found);
}

// Byte for byte what was sent, or the person is told.
void compare(Connection& c, const wire::Tables& tables, const std::string& sent, std::uint32_t revision,
             std::uint32_t jack) {
  const std::uint32_t number = active_slot(tables, jack);
  if (slot(tables, number).revision() != revision || read_slot(c, number, slot(tables, number)) != sent) {
    throw bad_input(
        fmt::format("the jack took the table but now works with other bytes (revision {}); load it again",
                    slot(tables, number).revision()));
  }
}

// As the jack gave it with the bytes that were read last; "" where it is of another key than this file's.
std::string signature_read(Connection& c, const proto::Key& key) {
  const auto& held = c.session->peer().held();
  const proof::TableSignature s{key, held.signature};
  return proof::signature_good(s, {held.bytes.begin(), held.bytes.end()}) ? proof::text_of(s) : "";
}

void enter(archive::Archive& kept, const wire::Identity& i, const std::string& bytes, std::uint32_t revision,
           const std::string& json, const wire::TableSlot& held, const GaugeLoad& o,
           const std::string& signature) {
  const std::int64_t now = std::time(nullptr);
  const std::string digest = sha256_hex(bytes);
  kept.add({i.jack_serial(), revision, digest, json, now},
           {i.jack_serial(), archive::Act::loaded, now, o.by, o.why, revision, digest,
            to_hex(held.key_fingerprint()), i.last_record(), 0, signature});
}

struct Runs {
  std::string name, text;
};

// What the table was made of: the file that was named, or the one of that name beside the table.
std::optional<Runs> runs_of(const std::string& json, const GaugeLoad& o) {
  const auto source = gauge::source_of(json, o.table);
  const auto beside =
      std::filesystem::path{o.table}.parent_path() / std::filesystem::path{source.file}.filename();
  const std::string path = o.runs.empty() ? beside.string() : o.runs;
  if (o.runs.empty() && !std::filesystem::is_regular_file(beside)) return {};
  Runs runs{std::filesystem::path{path}.filename().string(), read_file(path)};
  if (sha256_hex(runs.text) == source.sha256_hex) return runs;
  if (o.runs.empty()) return {};
  throw refused(
      fmt::format("{}: {} was not made of it (its SHA-256 is another); name the file that it was made of",
                  o.runs, o.table));
}

void keep_runs(archive::Archive& kept, const std::optional<Runs>& runs) {
  if (runs) {
    (void)kept.keep(runs->name, runs->text, std::time(nullptr));
  } else {
    fmt::print(
        stderr,
        "warning: what the table was made of is not kept with it: strandproof archive keep RUNS.csv\n");
  }
}

// A load whose entry was lost with this computer's power is entered now, instead of a second one made.
bool is_active_already(const archive::Archive& kept, const wire::Tables& tables,
                       const gauge::HeldTable& table, std::uint32_t jack) {
  if (tables.active() == 0) return false;
  const auto& s = slot(tables, tables.active());
  return to_hex(s.sha256()) == sha256_hex(check::held_bytes(table, s.revision())) &&
         !kept.table(jack, s.revision());
}

}  // namespace

Exit gauge_load(const Common& common, const GaugeLoad& o) {
  const std::string text = read_file(o.table);
  const auto table = gauge::read_sound(text, o.table, std::time(nullptr));
  const auto runs = runs_of(text, o);
  const std::string key_file = table_key_file(common, o.table_key);
  const auto of_file = keys::read_table_key(key_file);
  auto c = connect(common);
  auto kept = open_archive(common);
  const wire::Identity before = c.session->identify();
  check_identity(table, before, o.table);
  if (const auto reason = check::withdrawn_before(kept, before.jack_serial(), text); !reason.empty()) {
    throw refused(fmt::format(
        "{}: this table was withdrawn ({}); calibrate the jack and load what comes of it", o.table, reason));
  }
  const wire::Tables held = read_tables(c);
  check_parts(kept, held, before.jack_serial(), text, o.table);
  check_state(c, held, table, o.table);
  if (!o.revision && is_active_already(kept, held, table, before.jack_serial())) {
    const auto& s = slot(held, held.active());
    const std::string bytes = read_slot(c, held.active(), s);
    enter(kept, before, bytes, s.revision(), text, s, o, signature_read(c, of_file.public_key));
    keep_runs(kept, runs);
    fmt::print("jack {} works with this table already, as revision {}; entered in the history\n",
               before.jack_serial(), s.revision());
    return Exit::good;
  }
  check_against_active(c, held, table, o.table);
  if (o.revision && *o.revision == 0)
    throw bad_input("--revision 0 is no revision; the jack's floor is shown by gauge show");
  const auto key = keys::open_table_key(
      key_file, keys::ask_passphrase(o.passphrase_file, "passphrase of table key \"" + of_file.name + "\""));
  const std::uint32_t revision = o.revision.value_or(held.floor() + 1);
  const std::string bytes = check::held_bytes(table, revision);
  const std::vector<std::uint8_t> signed_bytes(bytes.begin(), bytes.end());
  c.session->must([&](proto::Peer& p, proto::Peer::Done done) {
    p.load_table(signed_bytes, revision, key.sign(signed_bytes), std::move(done));
  });
  const wire::Tables after = read_tables(c);
  compare(c, after, bytes, revision, before.jack_serial());
  const std::string signature = signature_read(c, of_file.public_key);
  enter(kept, c.session->identify(), bytes, revision, text, slot(after, after.active()), o, signature);
  keep_runs(kept, runs);
  fmt::print("jack {} now works with table revision {}: {} bytes read back and the same, digest {}\n",
             before.jack_serial(), revision, bytes.size(), sha256_hex(bytes).substr(0, 16));
  fmt::print("signed with key \"{}\" ({}), due {} ({})\n", of_file.name,
             keys::fingerprint(of_file.public_key), format_time(table.due_s),
             days_left(table.due_s, std::time(nullptr)));
  return Exit::good;
}

Exit gauge_undo(const Common& common, const GaugeAct& o) {
  auto c = connect(common);
  auto kept = open_archive(common);
  const std::uint32_t jack = c.session->identify().jack_serial();
  const wire::Tables before = read_tables(c);
  const std::uint32_t number = active_slot(before, jack);
  const wire::TableSlot from = slot(before, number);
  wire::TableUndo m;
  m.set_from(from.revision());
  m.set_to(slot(before, 3 - number).revision());
  c.session->must([&](proto::Peer& p, proto::Peer::Done done) { p.undo_table(m, std::move(done)); });
  const wire::Tables after = read_tables(c);
  const auto& now_active = slot(after, active_slot(after, jack));
  if (now_active.revision() != m.to()) {
    throw bad_input(fmt::format("the jack answered, but works with revision {}; look at it: gauge show",
                                now_active.revision()));
  }
  kept.add({jack, archive::Act::undone, std::time(nullptr), o.by, o.why, from.revision(),
            to_hex(from.sha256()), to_hex(from.key_fingerprint()), c.session->identify().last_record(), 0,
            std::to_string(m.to())});
  fmt::print(
      "jack {}: table revision {} undone, revision {} is active again; to load the other one needs a "
      "revision above {}\n",
      jack, m.from(), m.to(), after.floor());
  if (after.refusal() != 0)
    fmt::print(stderr, "warning: the jack will not arm: {}\n", texts::refusal(after.refusal()));
  return Exit::good;
}

}  // namespace strandproof::host::cli
