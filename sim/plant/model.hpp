// The plant's equations as a pure function dy/dt = f(y), for any solver. The fixed-step scheme of
// scheme.cpp solves the same equations; SUNDIALS checks it against them in tests/plant.
#pragma once

#include <array>

#include "sim/plant/circuit.hpp"
#include "sim/plant/friction.hpp"
#include "sim/plant/oil.hpp"
#include "sim/plant/parameters.hpp"
#include "sim/plant/plant.hpp"
#include "sim/plant/seat_tube.hpp"
#include "sim/plant/strand.hpp"
#include "sim/plant/valves.hpp"

namespace strandproof::plant {

// Commands that act now, after their delays.
struct Acting {
  bool motor = false, fast_stage = false, advance = false, lower = false, seat = false, shut_off = false;
  friend bool operator==(const Acting& a, const Acting& b) { return same(a, b); }
};

struct Load {
  StrandForces strand;
  double F = 0.0, k = 0.0;  // N and N/m, against the ram
};

// Axial force of the end stops on the ram, and its tangents.
struct StopForce {
  double F = 0.0, k = 0.0, c = 0.0;
};

class Model {
 public:
  enum Index : unsigned {
    N_pump,
    N_cap,
    N_rod,  // m3
    x,
    v,
    z,       // m, m/s, m
    V_seat,  // m3 in the seating tube
    s_advance,
    s_lower,
    s_seat,
    s_shut_off,  // spools, 0 to 1
    speed,
    stage,  // 0 to 1
    p_a,
    p_b,
    stroke,
    cell,  // behind the sensors
    size
  };
  using Vector = std::array<double, size>;

  Model() = default;
  // Throws std::invalid_argument naming a parameter that can not be.
  explicit Model(const Parameters& p);

  // At rest without load, at the starting stroke, every chamber at atmospheric pressure.
  [[nodiscard]] Vector start() const;
  // x_grip: stroke at which the grip took the strand. The strand's memory does not change within a call.
  // near: pressures not far from those of y, where the search for them starts.
  void derivative(const Vector& y, Vector& dydt, const Acting& acting, const StrandMemory& memory,
                  double x_grip, const Nodes& near) const;

  [[nodiscard]] double cap_volume(double at_x) const { return p.ram.V_cap + p.ram.A_cap * at_x; }
  [[nodiscard]] double rod_volume(double at_x) const {
    return p.ram.V_rod + p.ram.A_rod * (p.ram.stroke - at_x);
  }
  [[nodiscard]] Openings openings(double advance, double lower, double seat, double shut_off) const;
  [[nodiscard]] Load load(double at_x, const StrandMemory& memory, double x_grip) const;
  [[nodiscard]] StopForce stops(double at_x, double at_v) const;
  // Searches each pressure from its chamber's N.
  [[nodiscard]] Nodes nodes(const Vector& y) const;
  [[nodiscard]] Nodes nodes(const Vector& y, const Nodes& near) const;
  [[nodiscard]] double ram_force(const Nodes& at, double load, double friction, const StopForce& stop,
                                 double at_v) const;

  Parameters p;
  Mixture oil;
  Circuit circuit;
  StrandLine strand;
  double per_sigma = 0.0;  // m/N, of the bristles
  double growth = 0.0;     // 1/s, of the oil's volume by its warming
};

}  // namespace strandproof::plant
