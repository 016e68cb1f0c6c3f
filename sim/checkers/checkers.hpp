// Checks on the plant's truth. They read what really happened and what the controller claimed, never
// the controller's own figures, and steer nothing. A breach names what, when and how much.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/names.hpp"

namespace strandproof::sim {

// Limits of this scenario, from the instruction and the jack; SI.
struct Limits {
  double force = 0.0;         // no true strand force may pass it
  double pressure = 0.0;      // of the frame; 10 % above it is the breach (hazard H02)
  double seated = 0.0;        // wanted after seating
  double force_window = 0.0;  // relative
  double elongation_min = 0.0, elongation_max = 0.0;  // ram travel from the datum at the end of settle
  double tail = 0.0;  // m/N, stretch of the strand between chuck and grip, in that travel
  // Of the jack, for what the air in its oil may still move.
  double air = 0.0;           // share of the oil at atmospheric pressure
  double cap_dead = 0.0;      // m of stroke that hold as much as the advance side does at stroke 0
  double rod_over_cap = 0.0;  // areas
};

struct Breach {
  std::string check;  // short name, stable
  std::string what;
  double time_s = 0.0;
};

// What the controller says of the pull when it is over, as recorded.
struct Claim {
  std::uint32_t verdict = 0;  // numbers of the catalogue
};

class Checkers final : public Observer {
 public:
  explicit Checkers(const Limits& limits) : limits_{limits} {}

  void tick(const Moment& m) override;
  // After the run: holds the claim against the truth. Call once.
  void judge(const Claim& claim);
  // A broken rule of the flash's contract.
  void flash_violations(std::uint32_t count);
  [[nodiscard]] const std::vector<Breach>& breaches() const { return breaches_; }
  [[nodiscard]] bool breached(const std::string& check) const;

 private:
  // what: a printf pattern of the two numbers. Kept out of the checks: inlined it has every tick save
  // registers.
  [[gnu::noinline, gnu::cold]] void breach(const char* check, double time_s, const char* what, double a = 0.0,
                                           double b = 0.0);
  void motion(const Moment& m);
  [[nodiscard]] double swing(const plant::Truth& t) const;
  void load_state(const Moment& m);
  void chuck_said(const Moment& m);
  void mark(const Moment& m);
  [[nodiscard]] double place(const Moment& m) const {
    return m.truth.elongation + limits_.tail * m.truth.F_jack;
  }

  Limits limits_;
  std::vector<Breach> breaches_;
  double enabled_until_s_ = -1.0;  // last moment with both enables held
  double rest_stroke_m_ = 0.0;     // ram position when everything has had to come to rest
  double swing_m_ = 0.0;           // what the air may move it out, as it was when the enables were let go
  bool let_go_ = false, resting_ = false;
  double broken_s_ = -1.0;
  double understated_s_ = -1.0, chuck_said_s_ = -1.0;
  std::uint8_t state_ = 0;
  std::optional<double> datum_m_, settled_m_;  // true places of the strand at the grip
  double settle_from_s_ = 0.0;
  double locked_n_ = 0.0, time_s_ = 0.0;
};

// The one sentence under a run without a breach. It claims no more than was looked at.
inline constexpr const char* no_breach_text = "no limit breached in this scenario; plant values assumed";

}  // namespace strandproof::sim
