// SUNDIALS CVODE (backward differences) on the plant's equations: the second solver that the scheme of our
// own is held against. What it can not see, errors in the equations, the closed forms do.
#pragma once

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>
#include <stdexcept>
#include <string>

#include "sim/plant/grip.hpp"
#include "sim/plant/math.hpp"
#include "sim/plant/model.hpp"

namespace strandproof::plant {

class Oracle {
  using M = Model;

 public:
  // tolerance: relative; the absolute ones follow it.
  Oracle(const Parameters& p, double tolerance)
      : model_{p}, memory_{model_.strand.fresh()}, grip_{p.ram.x_start} {
    SUNContext_Create(nullptr, &context_);
    y_ = N_VNew_Serial(M::size, context_);
    absolute_ = N_VNew_Serial(M::size, context_);
    const M::Vector start = model_.start();
    std::copy(start.begin(), start.end(), N_VGetArrayPointer(y_));
    const M::Vector least = magnitudes(tolerance);
    std::copy(least.begin(), least.end(), N_VGetArrayPointer(absolute_));
    near_ = model_.nodes(start);
    matrix_ = SUNDenseMatrix(M::size, M::size, context_);
    solver_ = SUNLinSol_Dense(y_, matrix_, context_);
    cvode_ = CVodeCreate(CV_BDF, context_);
    must(CVodeInit(cvode_, &rate, 0.0, y_), "init");
    must(CVodeSVtolerances(cvode_, tolerance, absolute_), "tolerances");
    must(CVodeSetUserData(cvode_, this), "user data");
    must(CVodeSetErrFile(cvode_, nullptr), "no words");
    must(CVodeSetLinearSolver(cvode_, solver_, matrix_), "linear solver");
    must(CVodeSetMaxNumSteps(cvode_, 2'000'000), "steps");
    must(CVodeSetMaxStep(cvode_, 0.05), "longest step");
  }
  ~Oracle() {
    CVodeFree(&cvode_);
    SUNLinSolFree(solver_);
    SUNMatDestroy(matrix_);
    N_VDestroy(absolute_);
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  Oracle(const Oracle&) = delete;
  Oracle& operator=(const Oracle&) = delete;

  // Free from one event to the next: these commands act from here on, for so many seconds.
  void run(const Acting& acting, double seconds) {
    begin(acting);
    to(t_ + seconds);
  }
  // As a controller would need it that may change its mind at each tick.
  void run_ticks(const Acting& acting, int ticks) {
    begin(acting);
    for (int i = 0; i < ticks; ++i) {
      to(t_ + 1e-3);
    }
  }

  [[nodiscard]] M::Vector y() const {
    M::Vector v{};
    std::copy_n(N_VGetArrayPointer(y_), M::size, v.begin());
    return v;
  }
  [[nodiscard]] Load load() const { return model_.load(y()[M::x], memory_, grip_); }
  [[nodiscard]] Nodes nodes() const { return model_.nodes(y()); }
  [[nodiscard]] double peak() const { return peak_; }  // N, largest strand force so far

 private:
  static M::Vector magnitudes(double tolerance) {
    M::Vector a;
    a.fill(10.0 * tolerance);
    a[M::N_pump] = a[M::N_cap] = a[M::N_rod] = 1e-6 * tolerance;
    a[M::x] = 0.1 * tolerance;
    a[M::v] = tolerance;
    a[M::z] = 1e-3 * tolerance;
    a[M::V_seat] = 1e-3 * tolerance;
    a[M::p_a] = a[M::p_b] = 1e9 * tolerance;
    a[M::cell] = 1e7 * tolerance;
    return a;
  }
  static void must(int code, const char* what) {
    if (code < 0) {
      throw std::runtime_error("CVODE " + std::string(what) + ": code " + std::to_string(code));
    }
  }
  static int rate(realtype, N_Vector y, N_Vector dydt, void* self) {
    Oracle& o = *static_cast<Oracle*>(self);
    M::Vector from{}, to{};
    std::copy_n(N_VGetArrayPointer(y), M::size, from.begin());
    o.model_.derivative(from, to, o.acting_, o.memory_, o.grip_, o.near_);
    std::copy(to.begin(), to.end(), N_VGetArrayPointer(dydt));
    return 0;
  }
  void begin(const Acting& acting) {
    acting_ = acting;
    must(CVodeReInit(cvode_, t_, y_), "event");
  }
  // What the strand remembers is brought up to date after each step of the solver, as after each of ours.
  void to(double end) {
    must(CVodeSetStopTime(cvode_, end), "stop time");
    int code = CV_SUCCESS;
    for (int failed = 0; code != CV_TSTOP_RETURN;) {
      code = CVode(cvode_, end, y_, &t_, CV_ONE_STEP);
      // On a kink of the equations its history may fit neither side: it begins anew there, as at an event.
      if ((code == CV_ERR_FAILURE || code == CV_CONV_FAILURE) && ++failed < 5) {
        begin(acting_);
        continue;
      }
      must(code, "step");
      remember();
    }
    t_ = end;
  }
  void remember() {
    const M::Vector now = y();
    near_ = model_.nodes(now, near_);
    if (!model_.p.rig.fitted) {
      const StrandForces f = model_.load(now[M::x], memory_, grip_).strand;
      model_.strand.remember(memory_, f, seat_push(model_.p.seat, now[M::V_seat] / model_.p.seat.A),
                             t_ - remembered_);
      remembered_ = t_;
      grip_ = grip_after(model_.p.grip, now[M::x], grip_, f.u);
      peak_ = at_least(peak_, f.F_strand);
    }
  }

  Model model_;
  StrandMemory memory_;
  double grip_;
  double remembered_ = 0.0;  // s, up to where
  Nodes near_;
  Acting acting_;
  double t_ = 0.0, peak_ = 0.0;
  void* cvode_ = nullptr;
  SUNContext context_ = nullptr;
  N_Vector y_ = nullptr, absolute_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver solver_ = nullptr;
};

}  // namespace strandproof::plant
