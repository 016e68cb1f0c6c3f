// What the person at the calibration rig does, looking at the reference cell's read-out.
#include "sim/bench/names.hpp"
#include "sim/bench/routines.hpp"

namespace strandproof::sim {
namespace {

constexpr double give_up_s = 240.0;
constexpr double empty_n = 400.0;  // nearly no load on the read-out
constexpr double let_out_s = 3.0;  // lowering is held on, so that no oil stays under pressure
constexpr double let_go_s = 0.3;   // before the next thing is done

// Holds the keys until the read-out has come to the force, then lets go.
class MoveTo : public Routine {
 public:
  explicit MoveTo(double force_n) : force_n_{force_n} {}
  Progress step(const View& view, Pendant& hands) final {
    if (view.state != state::rig) {
      why_ = "the controller is not in the rig mode; enter it with: rig";
      return Progress::failed;
    }
    if (began_s_ < 0.0) {
      began_s_ = view.time_s;
    }
    if (arrived_s_ < 0.0 && reached(view)) {
      arrived_s_ = view.time_s;
    }
    if (arrived_s_ < 0.0) {
      why_ = "the rig never came to that force";
      hands = keys(view);
      return view.time_s - began_s_ < give_up_s ? Progress::going : Progress::failed;
    }
    hands = after(view.time_s - arrived_s_);
    return view.time_s - arrived_s_ < wait_s() ? Progress::going : Progress::done;
  }
  [[nodiscard]] std::string why_failed() const final { return why_; }

 protected:
  [[nodiscard]] double force_n() const { return force_n_; }

 private:
  [[nodiscard]] virtual bool reached(const View& view) const = 0;
  [[nodiscard]] virtual Pendant keys(const View& view) const = 0;
  [[nodiscard]] virtual Pendant after(double) const { return nothing(); }
  [[nodiscard]] virtual double wait_s() const { return let_go_s; }

  double force_n_, began_s_ = -1.0, arrived_s_ = -1.0;
  std::string why_;
};

class UpTo final : public MoveTo {
 public:
  using MoveTo::MoveTo;

 private:
  [[nodiscard]] bool reached(const View& view) const override { return view.cell_n >= force_n(); }
  [[nodiscard]] Pendant keys(const View& view) const override {
    Pendant held = pull_keys();
    held.select = view.cell_n < force_n() - creep_before_n;
    return held;
  }
};

class DownTo final : public MoveTo {
 public:
  using MoveTo::MoveTo;

 private:
  [[nodiscard]] bool to_no_load() const { return force_n() <= empty_n; }
  [[nodiscard]] bool reached(const View& view) const override {
    return view.cell_n <= (to_no_load() ? empty_n : force_n());
  }
  [[nodiscard]] Pendant keys(const View&) const override { return lower_keys(); }
  [[nodiscard]] Pendant after(double since_s) const override {
    return to_no_load() && since_s < let_out_s ? lower_keys() : nothing();
  }
  [[nodiscard]] double wait_s() const override { return let_go_s + (to_no_load() ? let_out_s : 0.0); }
};

}  // namespace

std::unique_ptr<Routine> make_up_to(double force_n) {
  return std::make_unique<UpTo>(force_n);
}
std::unique_ptr<Routine> make_down_to(double force_n) {
  return std::make_unique<DownTo>(force_n);
}

}  // namespace strandproof::sim
