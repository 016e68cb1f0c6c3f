#include "sim/main/host_session.hpp"

#include "sim/bench/names.hpp"

namespace strandproof::sim {
namespace {

constexpr double answer_limit_s = 90.0;  // of virtual time, for any one job
constexpr std::uint64_t year_s = 365ULL * 24 * 3600;

proto::Key pattern(std::uint8_t first) {
  proto::Key key{};
  for (std::size_t i = 0; i < key.size(); ++i) {
    key[i] = static_cast<std::uint8_t>(first + 7U * i);
  }
  return key;
}

proto::HostKeys host_keys() {
  return {.host_id = 0x5354524E44ULL, .name = "bench of the simulator", .key = pattern(11)};
}

void put(wire::GaugeColumn* to, const Column& from) {
  for (std::size_t i = 0; i < from.force_n.size(); ++i) {
    to->add_pressure_mbar(from.pressure_mbar[i]);
    to->add_force_n(from.force_n[i]);
  }
}

std::uint32_t whole(double value) {
  return static_cast<std::uint32_t>(value + 0.5);
}
std::uint32_t micro(double metres) {
  return whole(metres * 1e6);
}

}  // namespace

wire::GaugeTable wire_table(const Scenario& s, const PlainTable& table, std::uint32_t origin) {
  wire::GaugeTable t;
  t.set_revision(whole(s.rig.revision));
  t.set_jack_serial(whole(s.jack.serial));
  t.set_sensor_a_serial(whole(s.sensors.sensor_a_serial));
  t.set_sensor_b_serial(whole(s.sensors.sensor_b_serial));
  t.set_calibrated_s(virtual_start_utc_s);
  t.set_due_s(virtual_start_utc_s + year_s);
  t.set_origin(origin);
  put(t.mutable_a_increasing(), table.a_increasing);
  put(t.mutable_a_decreasing(), table.a_decreasing);
  put(t.mutable_b_increasing(), table.b_increasing);
  put(t.mutable_b_decreasing(), table.b_decreasing);
  return t;
}

wire::PullInstruction wire_instruction(const Scenario& s, const PlannedPull& p) {
  wire::PullInstruction i;
  i.set_id(whole(s.plan.id));
  i.set_bed(whole(s.bed.number));
  i.set_position(whole(s.bed.position));
  i.set_bed_name(s.bed.name);
  i.set_strand_name(s.strand.name);
  i.set_reel(whole(s.bed.reel));
  i.set_jack_serial(whole(s.jack.serial));
  i.set_initial_n(whole(p.initial));
  i.set_seated_n(whole(p.seated));
  i.set_jack_n(whole(p.jack));
  i.set_limit_n(whole(p.limit));
  i.set_stiffness_n_per_m(whole(p.stiffness));
  i.set_stiffness_ppm(whole(p.stiffness_uncertainty * 1e6));
  i.set_elongation_um(micro(p.elongation));
  i.set_elongation_min_um(micro(p.elongation_min));
  i.set_elongation_max_um(micro(p.elongation_max));
  i.set_draw_in_um(micro(p.draw_in));
  i.set_draw_in_max_um(micro(p.draw_in_max));
  i.set_slack_max_um(micro(p.slack_max));
  i.set_force_window_ppm(whole(p.force_window * 1e6));
  return i;
}

HostSession::HostSession(Bench& bench, const Scenario& scenario)
    : bench_{bench}, scenario_{scenario}, table_key_{pattern(3)}, peer_{host_keys()} {
  peer_.on_check = [this](std::uint32_t) { bench_.person().command("press confirm"); };
  peer_.on_key_shown = [this] { bench_.person().command("press confirm"); };
}

void HostSession::step() {
  const auto now = static_cast<proto::Milliseconds>(bench_.board().ticks());
  if (now % 10 == 0) {
    say(now);
  }
  bench_.step();
  if (bench_.brain().link_speaks()) {
    hear(now);
  }
}

void HostSession::say(proto::Milliseconds now) {
  peer_.poll(now);
  if (const std::vector<std::uint8_t> bytes = peer_.take(); !bytes.empty()) {
    bench_.brain().link_write(bytes);
  }
}

void HostSession::hear(proto::Milliseconds now) {
  if (const std::vector<std::uint8_t> bytes = bench_.brain().link_read(); !bytes.empty()) {
    peer_.feed(bytes, now);
  }
}

std::string HostSession::run(const char* what) {
  const double until_s = bench_.board().time_s() + answer_limit_s;
  while (peer_.busy() && bench_.board().time_s() < until_s) {
    step();
  }
  if (peer_.busy()) {
    peer_.abandon();
    return std::string(what) + ": the jack did not answer in its time; look at its trace";
  }
  const proto::Result& result = peer_.last_result();
  if (result.ok()) {
    return {};
  }
  if (result.outcome == proto::Outcome::refused) {
    const RefusalText text = refusal_text(result.code);
    return std::string(what) + ": refused by the jack: " + std::string(text.why) + "; " +
           std::string(text.remedy);
  }
  return std::string(what) + ": " + result.what;
}

std::string HostSession::person_does(const char* command) {
  bench_.person().command(command);
  while (!bench_.person().idle()) {
    step();
  }
  return bench_.person().failed() ? std::string(command) + ": " + bench_.person().failure() : std::string();
}

std::string HostSession::pair() {
  if (std::string failure = person_does("pair"); !failure.empty()) {
    return failure;
  }
  peer_.pair();
  if (std::string failure = run("pair"); !failure.empty()) {
    return failure;
  }
  if (std::string failure = person_does("enrol-table-key"); !failure.empty()) {
    return failure;
  }
  peer_.enrol_table_key("bench", table_key_.public_key());
  if (std::string failure = run("table key"); !failure.empty()) {
    return failure;
  }
  return person_does("menu-pull");  // the cursor stands on ENROL A TABLE KEY yet
}

std::string HostSession::set_clock() {
  peer_.set_clock(virtual_start_utc_s + bench_.board().ticks() / 1000);
  return run("clock");
}

std::string HostSession::load_table(const PlainTable& table) {
  const std::uint32_t origin = peer_.identity() ? peer_.identity()->origin() : 0;  // 0: not yet paired
  const std::string bytes = wire_table(scenario_, table, origin).SerializeAsString();
  const std::vector<std::uint8_t> raw(bytes.begin(), bytes.end());
  peer_.load_table(raw, whole(scenario_.rig.revision), table_key_.sign(raw));
  return run("gauge table");
}

std::string HostSession::send_instruction(const PlannedPull& plan) {
  peer_.send_instruction(wire_instruction(scenario_, plan));
  return run("instruction");
}

std::string HostSession::provision(const PlainTable& table, const PlannedPull& plan) {
  if (std::string failure = pair(); !failure.empty()) {
    return failure;
  }
  if (std::string failure = set_clock(); !failure.empty()) {
    return failure;
  }
  if (std::string failure = load_table(table); !failure.empty()) {
    return failure;
  }
  return send_instruction(plan);
}

std::optional<wire::PullRecord> HostSession::last_pull() {
  std::optional<wire::PullRecord> last;
  log_.clear();
  peer_.on_record = [&](const wire::LogRecord& stored) {
    wire::Record record;
    log_.push_back(stored);
    if (record.ParseFromString(stored.body()) && record.has_pull()) {
      last = record.pull();
    }
  };
  peer_.fetch_log(0);
  const std::string failure = run("log");
  peer_.on_record = {};
  return failure.empty() ? last : std::nullopt;
}

std::optional<wire::Status> HostSession::status() {
  peer_.read_status();
  return run("status").empty() ? peer_.status() : std::nullopt;
}

}  // namespace strandproof::sim
