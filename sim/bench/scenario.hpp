// One pull, described: strand, bed, jack, oil, valves, pump, sensors, instruction, rig, operator and
// faults. SI doubles. Every value has a default, so an empty file is the embedded scenario: an
// invented yard and bed. Values marked "assumed" are generic for the trade (trade.md 6.3), not measured.
#pragma once

#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "sim/fault/fault.hpp"

namespace strandproof::sim {

struct Strand {
  std::string name = "12.9 mm Y1860S7";
  double area = 100e-6;           // m2, EN 10138-3
  double modulus = 195e9;         // Pa, EN 10138-3
  double breaking_force = 186e3;  // N, F_m, EN 10138-3
  double proof_force = 160e3;     // N, F_p0.1, EN 10138-3
  double force_at_1_percent =
      0;  // N, of the reel's mill certificate; 0: a share of the breaking force, assumed
  double ultimate_strain = 0.035;  // of the certificate; least value of ASTM A416
  double length = 60.0;            // m, chuck to chuck
  double tail = 0.8;               // m, chuck to jack grip
  double slack = 0.040;            // m, ram travel until the strand is straight
  double warming = 0.0;            // K in a minute
};

struct Bed {
  std::string name = "Yard 1 bed A";
  double number = 1, position = 1, reel = 1;
  double abutment_stiffness = 1.0e8;  // N/m, both ends in series, assumed
  double draw_in = 0.006;             // m, live-end wedges drawn in by the strand alone, common practice
  double draw_in_pushed = 0.003;      // m, after the seating tube has pushed them
  double dead_draw_in = 0.003;        // m
  double friction = 0.0;              // share of the strand's weight; 0: it hangs free between its supports
};

struct Jack {
  double serial = 4711;
  double area = 48e-4;            // m2, advance side
  double rod_area = 20e-4;        // m2, retract side, assumed
  double stroke = 0.520;          // m, to the end stop
  double stroke_usable = 0.500;   // m
  double grip_draw_in = 0.004;    // m, ram travel until the grip holds a strand taken anew, assumed
  double friction = 0.03;         // of the force, rising with pressure; 1 to 5 %, common practice
  double seal_force = 300.0;      // N, constant part, assumed
  double friction_scatter = 0.0;  // of the friction itself, this pull; the rig runs do not have it
  double pressure_limit = 40e6;   // Pa, raw limit of the frame
  double rig_rating = 38e6;       // Pa
};

struct Oil {
  double bulk_modulus = 1.5e9;   // Pa, air-free
  double air = 0.005;            // volume fraction at 1 atm
  double dead_volume = 0.2e-3;   // m3
  double hose_volume = 0.15e-3;  // m3
  double temperature = 20.0;     // degC
  double grade = 46.0;           // ISO VG
  double warming = 0.0;          // K in a minute
  double leak = 0.0;             // m3/s at 30 MPa, past the load-holding valve
};

struct Valves {
  double delay = 0.020;  // s, advance valve: switching delay
  double lag = 0.005;    // s
};

struct Pump {
  double fast_flow = 2.0e-3 / 60.0;  // m3/s
  double slow_flow = 0.3e-3 / 60.0;  // m3/s
  double scale = 1.0;                // of both flows
  double relief = 45e6;              // Pa
  double slip = 0.0;                 // m3/s at 30 MPa, back through the turning pump
};

struct Sensors {
  double sensor_a_serial = 5001, sensor_b_serial = 5002, stroke_serial = 5003;
  double pressure_span = 70e6;        // Pa
  double stroke_span = 0.600;         // m
  double cell_span = 200e3;           // N, reference cell of the rig
  double noise = 0.001;               // standard deviation of a pressure sample, of its span
  double stroke_noise = 0.0002;       // of its span
  double cell_noise = 0.0002;         // of its span
  double gain_a = 0.0, gain_b = 0.0;  // relative gain errors
};

// What is left at zero is planned from strand and bed by the trade's formulas (trade.md 2.2).
struct Plan {
  double id = 1;
  double initial = 15e3;  // N
  double jack_force = 130e3;
  double seated = 0.0;
  double limit = 0.0;
  double stiffness = 0.0;       // N/m
  double elongation = 0.0;      // m
  double window = 0.05;         // of elongation and of locked force; US practice +-5 % (UFGS 03 23 00)
  double window_floor = 0.005;  // m
  double slack_max = 0.0;       // m
};

struct Rig {
  double stiffness = 2.0e6;  // N/m of the spring pack
  double top = 150e3;        // N, highest set point
  double points = 10, runs = 3;
  double revision = 1;  // of the table made from the runs
};

struct Scenario {
  std::string name = "embedded";
  std::uint64_t seed = 1;
  double first_tick = 0.0;    // of the board's 32-bit tick counter: near the wrap shows H35
  double time_limit = 900.0;  // s of virtual time
  Strand strand;
  Bed bed;
  Jack jack;
  Oil oil;
  Valves valves;
  Pump pump;
  Sensors sensors;
  Plan plan;
  Rig rig;
  std::string jack_file;              // where the jack's own values came from; empty: all are assumed
  std::vector<std::string> measured;  // keys whose value was measured on this very jack
  bool jack_simulated = false;        // measured on a simulated one
  std::vector<std::string> operator_lines{"pull"};
  std::vector<fault::Fault> faults;
};

// file:line:column, what and remedy in one line.
class ScenarioError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

// Reads a scenario; name stands for the file in messages. Throws ScenarioError.
Scenario parse_scenario(std::string_view text, const std::string& name);
Scenario read_scenario(const std::string& path);

// The values of one jack, each marked measured (on this very jack) or assumed. Throws ScenarioError.
void read_jack_file(Scenario& scenario, const std::string& path);

// "key=value" of the command line. Throws ScenarioError.
void set_value(Scenario& scenario, std::string_view assignment);

// Every key with its unit and default, for --keys and the document.
std::string describe_keys();

}  // namespace strandproof::sim
