// The fixed-step scheme against SUNDIALS CVODE (backward differences, 1e-9) on the same equations: a pull, a
// hold and a lowering. What it can not see, errors in the equations, the closed forms do.
#include <cvode/cvode.h>
#include <gtest/gtest.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>

#include "sim/plant/scheme.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

using M = Model;

// The plant's equations under CVODE. The strand's memory stays what it was at the start of a phase: within a
// phase the strand is only loaded, or only unloaded.
class Oracle {
 public:
  explicit Oracle(const Parameters& p) : model_{p}, memory_{model_.strand.fresh()}, grip_{p.ram.x_start} {
    SUNContext_Create(nullptr, &context_);
    y_ = N_VNew_Serial(M::size, context_);
    tolerance_ = N_VNew_Serial(M::size, context_);
    const M::Vector start = model_.start();
    std::copy(start.begin(), start.end(), N_VGetArrayPointer(y_));
    const M::Vector absolute = tolerances();
    std::copy(absolute.begin(), absolute.end(), N_VGetArrayPointer(tolerance_));
    matrix_ = SUNDenseMatrix(M::size, M::size, context_);
    solver_ = SUNLinSol_Dense(y_, matrix_, context_);
  }
  ~Oracle() {
    SUNLinSolFree(solver_);
    SUNMatDestroy(matrix_);
    N_VDestroy(tolerance_);
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  Oracle(const Oracle&) = delete;
  Oracle& operator=(const Oracle&) = delete;

  void run(const Acting& acting, double seconds) {
    acting_ = acting;
    model_.strand.remember(memory_, load().strand, 0.0);
    void* cvode = CVodeCreate(CV_BDF, context_);
    ASSERT_EQ(CVodeInit(cvode, &rate, t_, y_), CV_SUCCESS);
    ASSERT_EQ(CVodeSVtolerances(cvode, 1e-9, tolerance_), CV_SUCCESS);
    CVodeSetUserData(cvode, this);
    CVodeSetLinearSolver(cvode, solver_, matrix_);
    CVodeSetMaxNumSteps(cvode, 2'000'000);
    CVodeSetMaxStep(cvode, 0.05);
    const double to = t_ + seconds;
    EXPECT_EQ(CVodeSetStopTime(cvode, to), CV_SUCCESS);
    EXPECT_GE(CVode(cvode, to, y_, &t_, CV_NORMAL), 0);
    CVodeFree(&cvode);
  }

  [[nodiscard]] M::Vector y() const {
    M::Vector v{};
    std::copy_n(N_VGetArrayPointer(y_), M::size, v.begin());
    return v;
  }
  [[nodiscard]] Load load() const { return model_.load(y()[M::x], memory_, grip_); }
  [[nodiscard]] Nodes nodes() const { return model_.nodes(y()); }

 private:
  static M::Vector tolerances() {
    M::Vector a;
    a.fill(1e-8);
    a[M::N_pump] = a[M::N_cap] = a[M::N_rod] = 1e-15;
    a[M::x] = 1e-10;
    a[M::v] = 1e-9;
    a[M::z] = 1e-12;
    a[M::V_seat] = 1e-12;
    a[M::p_a] = a[M::p_b] = 1.0;
    a[M::cell] = 0.01;
    return a;
  }
  static int rate(realtype, N_Vector y, N_Vector dydt, void* self) {
    const Oracle& o = *static_cast<Oracle*>(self);
    M::Vector from{}, to{};
    std::copy_n(N_VGetArrayPointer(y), M::size, from.begin());
    o.model_.derivative(from, to, o.acting_, o.memory_, o.grip_);
    std::copy(to.begin(), to.end(), N_VGetArrayPointer(dydt));
    return 0;
  }

  Model model_;
  StrandMemory memory_;
  double grip_;
  Acting acting_;
  double t_ = 0.0;
  SUNContext context_ = nullptr;
  N_Vector y_ = nullptr, tolerance_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver solver_ = nullptr;
};

void expect_same(const Plant& plant, const Oracle& oracle, const char* when) {
  const Truth& t = plant.truth();
  const Nodes at = oracle.nodes();
  EXPECT_NEAR(t.F_jack, oracle.load().F, 2e-4 * t.F_jack + 2.0) << when;
  EXPECT_NEAR(t.p_cap, at.p_cap, 2e-4 * at.p_cap + 500.0) << when;
  EXPECT_NEAR(t.p_pump, at.p_pump, 1e-3 * at.p_pump + 2e3) << when;
  EXPECT_NEAR(t.x_ram, oracle.y()[M::x], 3e-5) << when;
  EXPECT_NEAR(t.stroke, oracle.y()[M::stroke], 4e-5) << when;
  EXPECT_NEAR(t.p_a, oracle.y()[M::p_a], 2e-4 * at.p_cap + 2e3) << when;
}

class Cvode : public testing::TestWithParam<double> {};

TEST_P(Cvode, PullHoldLower) {
  Parameters p;
  p.valves.delay = 0.0;
  p.strand.L = GetParam();
  p.strand.slack = 0.02;
  Plant plant(p);
  Oracle oracle(p);
  const Acting pull{.motor = true, .fast_stage = true, .advance = true, .shut_off = true};
  const auto fast = static_cast<int>(8000.0 + 450.0 * GetParam());
  run(plant, pull_fast, 6000), oracle.run(pull, 6.0);
  expect_same(plant, oracle, "early in the pull");
  run(plant, pull_fast, fast - 6000), oracle.run(pull, (fast - 6000) * 1e-3);
  expect_same(plant, oracle, "at the end of the fast pull");
  Acting slow = pull;
  slow.fast_stage = false;
  run(plant, pull_slow, 1500), oracle.run(slow, 1.5);
  expect_same(plant, oracle, "at the end of the slow pull");
  run(plant, blocked, 2000), oracle.run({}, 2.0);
  expect_same(plant, oracle, "at the end of the hold");
  const Acting lower{.motor = true, .lower = true, .shut_off = true};
  run(plant, let_down, 500), oracle.run(lower, 0.5);
  expect_same(plant, oracle, "lowering for half a second");
  run(plant, let_down, 1500), oracle.run(lower, 1.5);
  expect_same(plant, oracle, "lowering for two seconds");
}

INSTANTIATE_TEST_SUITE_P(Lengths, Cvode, testing::Values(20.0, 60.0, 100.0));

}  // namespace
}  // namespace strandproof::plant
