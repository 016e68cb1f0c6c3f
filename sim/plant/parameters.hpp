// Every number of the plant, in SI, grouped by part. "assumed" marks a generic value for the trade that
// has no source of its own; catalogue ranges are common practice. sim/README.md has each part's equations.
#pragma once

namespace strandproof::plant {

struct Oil {
  double K = 1.5e9;      // Pa, bulk modulus free of air; mineral oil 1.4 to 1.8 GPa, common practice
  double air = 0.005;    // volume fraction of entrained air at atmospheric pressure, 0.001 to 0.03; assumed
  double n = 1.0;        // polytropic exponent of the air: 1 slow (isothermal), 1.4 fast (isentropic)
  double rho = 870.0;    // kg/m3; 860 to 880 at 15 degC, common practice
  double grade = 46.0;   // ISO VG, 32 to 68: mm2/s at 40 degC (ISO 3448)
  double T = 20.0;       // degC, at the start
  double warming = 0.0;  // K/s, by which it changes
  double beta = 7e-4;    // 1/K, thermal expansion of mineral oil; trade.md 6.1
};

struct Pump {
  double Q_fast =
      2.0e-3 / 60.0;  // m3/s at the line's pressure, fast stage on; 1 to 10 L/min, common practice
  double Q_slow = 0.3e-3 / 60.0;          // m3/s, fast stage off; assumed
  double scale = 1.0;                     // of both flows: 0.8 to 1.2
  double G_slip = 0.0;                    // m3/s/Pa, from the line back through the turning pump
  double tau_motor = 0.040;               // s, run-up and run-down of the motor; assumed
  double tau_stage = 0.010;               // s, change of stage after its delay; assumed
  double p_relief = 45e6;                 // Pa, cracking pressure of the relief valve; assumed
  double G_relief = 2.0e-3 / 60.0 / 2e6;  // m3/s/Pa, relief gradient: 2 L/min over 2 MPa; assumed
};

struct Hose {
  double V = 0.15e-3;  // m3, with the pump's line; assumed
  double L = 5.0;      // m, from the pump to the valves on the jack; assumed
  double D = 6e-3;     // m, bore; assumed
};

struct Valves {
  double delay = 0.020;   // s, switching delay of all and of the stage, 0 to 0.5; 5 to 40 ms, catalogue range
  double tau = 0.005;     // s, first-order lag of the spool after the delay, 0.0005 to 0.5; assumed
  double overlap = 0.10;  // share of the spool's travel before it opens; assumed
  double p_nominal = 0.3e6;          // Pa, pressure drop of an open valve at Q_nominal; assumed
  double Q_nominal = 2.0e-3 / 60.0;  // m3/s
  double p_crack = 0.05e6;           // Pa, spring of the load-holding check valve; assumed
  double p_pilot = 2.0e6;      // Pa, sequence valve of the retract line, which feeds the pilot first; assumed
  double d_throttle = 1.2e-3;  // m, bore of the lowering throttle; assumed
  double C_d = 0.611;          // discharge coefficient of a sharp edge, turbulent; textbook
  double Q_lower = 2.4e-3 / 60.0;  // m3/s, the throttle's pressure compensator lets no more pass; assumed
};

struct Ram {
  double A_cap = 48e-4;       // m2, advance side; 35 to 65 cm2, common practice
  double A_rod = 20e-4;       // m2, retract side; assumed
  double stroke = 0.520;      // m, to the end stop
  double x_start = 0.010;     // m, stroke at the start
  double V_cap = 0.2e-3;      // m3, dead volume of the advance side at stroke 0; assumed
  double V_rod = 0.2e-3;      // m3, dead volume of the retract side at full stroke; assumed
  double m = 20.0;            // kg, ram and grip; assumed
  double k_stop = 1.0e10;     // N/m, end stops; assumed
  double c_stop = 1.0e5;      // N s/m, damping in the end stops; assumed
  double p_rod_relief = 8e6;  // Pa, relief of the retract side; assumed
  double G_leak = 0.0;  // m3/s/Pa, laminar leak from the advance side past the load-holding valve to the tank
  double G_piston = 0.0;  // m3/s/Pa, laminar leak past the piston to the retract side
};

struct Friction {
  double fraction = 0.03;      // of the pressure force on the piston; 0.01 to 0.05, common practice
  double F_seal = 300.0;       // N, constant part; assumed
  double scatter = 0.0;        // of the friction itself, this pull: -0.3 to 0.3
  double stribeck = 0.03;      // extra friction near rest, of the friction itself; assumed
  double v_stribeck = 0.5e-3;  // m/s; assumed
  double c = 2.0e3;            // N s/m, viscous; assumed
  double sigma = 1.0e8;        // N/m, stiffness of the seals before they slide; assumed
  double relaxation = 0.2;     // 1/s, seals at rest let go of their friction at this rate; assumed
};

inline constexpr double rho_steel = 7850.0;  // kg/m3, handbook value

struct Strand {
  double A = 100e-6;       // m2, EN 10138-3, 12.9 mm
  double E = 195e9;        // Pa, EN 10138-3
  double f_pu = 1860e6;    // Pa, EN 10138-3; the curve ends here
  double f_1 = 1720e6;     // Pa, stress at 1 % strain, 0.86 to 0.95 f_pu; assumed, as of a mill certificate
  double eps_u = 0.035;    // strain at which it breaks of itself; least value of ASTM A416
  double L = 60.0;         // m, chuck to chuck
  double L_tail = 0.8;     // m, live-end chuck to jack grip
  double slack = 0.040;    // m, of strand to take up before it carries
  double friction = 0.0;   // on the bed, share of the strand's weight; 0: it hangs free
  double warming = 0.0;    // K/s, of the free length
  double alpha = 11.5e-6;  // 1/K, thermal expansion of steel; handbook value, from memory
  double k_abutment = 1.0e8;  // N/m, both ends in series; assumed
};

struct Chucks {
  double draw_in = 0.006;  // m, live end, wedges drawn in by the strand alone; 3 to 10 mm, common practice
  double draw_in_pushed = 0.003;  // m, live end, after the seating tube has pushed them right in; assumed
  double k_wedge = 4.0e8;         // N/m, wedges and barrel once they hold; assumed
  bool keeper = true;  // a collar in the jack's nose keeps the wedges off until they are first pushed
  double dead_draw_in = 0.003;  // m, dead end; 1 to 6 mm, common practice
  double F_dead_full = 20e3;    // N, force at which the dead end has drawn in fully; assumed
};

struct Grip {
  double draw_in = 0.004;  // m, travel of the ram until the jaws hold a strand that they take anew; assumed
};

struct SeatTube {
  double A = 5e-4;          // m2, piston of the seating tube; assumed
  double gap = 3e-3;        // m, travel before it touches the wedges; assumed
  double travel = 3e-3;     // m, from there to wedges pushed right in; assumed
  double F_return = 300.0;  // N, return spring at rest; assumed
  double k_return = 2.0e4;  // N/m; assumed
  double k_push = 1.0e6;    // N/m, wedges against the push; assumed
  double k_stop = 1.0e9;    // N/m, end of travel; assumed
};

struct Rig {
  bool fitted = false;    // the jack pushes against the rig and there is no strand
  double k = 2.0e6;       // N/m, spring pack, so that the ram moves while it is read; assumed
  double x_free = 0.020;  // m, stroke at which the spring pack touches
};

struct Sensors {
  double tau_pressure = 0.002;  // s, both pressure transducers; assumed
  double tau_stroke = 0.002;    // s; assumed
  double tau_cell = 0.005;      // s; assumed
  bool a_at_pump = false;       // tap at the pump instead of the cylinder side of the load-holding valve
  bool b_at_pump = false;
};

// The fixed-step scheme.
struct Scheme {
  int ahead = 24;              // ticks that are one step while nothing changes
  int substeps_transient = 8;  // of a tick that is redone because something moves fast
};

struct Parameters {
  Oil oil;
  Pump pump;
  Hose hose;
  Valves valves;
  Ram ram;
  Friction friction;
  Strand strand;
  Chucks chucks;
  Grip grip;
  SeatTube seat;
  Rig rig;
  Sensors sensors;
  Scheme scheme;
};

}  // namespace strandproof::plant
