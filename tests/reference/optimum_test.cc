// Plans with a known best answer, solved by the planner's own transcription. Each case is a robot
// description: a clamped body with one leg whose foot is the mass that is moved.
#include <cmath>

#include <gtest/gtest.h>

#include "solver/plan/rounds.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

constexpr double kMassKg = 0.002;
constexpr double kDistanceM = 0.02;
// Stopping tolerances of the solves. The loose one is for friction, whose smoothed law leaves the
// solver a curved valley: it follows the cost to within a percent at this tolerance and crawls
// below it.
constexpr double kTightTolerance = 2e-8;
constexpr double kLooseTolerance = 5e-6;
constexpr double kDriveForceN = 0.4;  // at full voltage; far above what any case needs

// A leg whose swing moves the foot mass along x and whose lift is free, or the other way round.
v1::Robot MakeBenchMass(bool drives_lift, double height_m) {
  v1::Robot robot = test::MakeBody(1.0, 1e-3);
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot.mutable_body()->set_clamp_height_m(height_m);
  v1::Leg* leg = test::AddLeg(&robot, 0.0, 0.0, 0.0);
  v1::LumpedLeg* lumped = leg->mutable_lumped();
  lumped->set_foot_mass_kg(kMassKg);
  for (v1::LegCoordinate* coordinate : {lumped->mutable_lift(), lumped->mutable_swing()}) {
    coordinate->set_min_m(-0.1);
    coordinate->set_max_m(0.1);
    coordinate->set_stiffness_n_per_m(0.0);
    coordinate->set_damping_n_s_per_m(0.0);
    coordinate->set_moving_mass_kg(0.0);
    coordinate->set_stop_stiffness_n_per_m(0.0);
    coordinate->clear_bimorph();
    coordinate->set_transmission_ratio(0.0);
  }
  v1::LegCoordinate* driven = drives_lift ? lumped->mutable_lift() : lumped->mutable_swing();
  driven->set_transmission_ratio(1.0);
  driven->mutable_bimorph()->set_gain_n_per_v(kDriveForceN / 100.0);
  driven->mutable_bimorph()->set_min_v(-100.0);
  driven->mutable_bimorph()->set_max_v(100.0);
  driven->mutable_bimorph()->set_slew_v_per_s(1e6);
  return robot;
}

struct Path {
  double rest = 0.0;       // of the coordinate that is not moved, m
  double start_m = 0.0;    // of the moved coordinate, at rest
  double end_m = 0.0;      // half a knot period after the last push
  double end_speed = 0.0;  // m/s
};

struct Optimum {
  double cost_n2_s = 0.0;       // integral of the squared force
  std::vector<double> force_n;  // at each push
};

// Solves for the path of least squared force: `pushes` knots, each push constant for duration /
// pushes.
Optimum Solve(const v1::Robot& robot,
              double friction,
              double duration_s,
              int pushes,
              const Path& path,
              double tolerance) {
  const bool drives_lift = robot.legs(0).lumped().lift().has_bimorph();
  const Scale scale{kDistanceM, kMassKg, duration_s};
  const RobotModel model = RobotModel::Create(robot, test::MakeSurface(friction), scale).value();
  PlanProblem problem;
  problem.model = &model;
  problem.knot_count = pushes + 2;
  problem.knot_period = 1.0 / pushes;
  problem.is_periodic = false;
  problem.contact = {0.1, kMassKg * kGravityMPerS2 / scale.force_n(), 1.0};
  problem.weights = {};
  problem.weights.legs = 0.0;
  problem.weights.clearance = 0.0;
  problem.weights.slip = 0.0;
  problem.weights.force = 1e-6;
  problem.weights.sliding_speed = 1e-6;
  problem.weights.effort = 10.0;
  problem.clearance_target.setZero(1, problem.knot_count);
  problem.posture_target.setZero(2, problem.knot_count);
  PlanUnknowns unknowns;
  unknowns.controls.setZero(problem.control_count(), problem.knot_count);
  unknowns.coordinates.setConstant(2, problem.knot_count, path.rest / kDistanceM);
  const Eigen::Index moved = drives_lift ? 0 : 1;
  const double half_step_m = 0.5 * path.end_speed * duration_s / pushes;
  for (int k = 0; k < problem.knot_count; ++k) {
    const double share = std::clamp((k - 1.0) / (pushes - 1.0), 0.0, 1.0);
    unknowns.coordinates(moved, k) =
        (path.start_m + share * (path.end_m - path.start_m)) / kDistanceM;
  }
  unknowns.coordinates(moved, problem.knot_count - 2) = (path.end_m - half_step_m) / kDistanceM;
  unknowns.coordinates(moved, problem.knot_count - 1) = (path.end_m + half_step_m) / kDistanceM;
  RoundSchedule schedule;
  schedule.iterations_per_round = 60;
  schedule.max_rounds = 40;
  schedule.tolerance = tolerance;
  // The planner's own damping stops within a percent of the optimum; these checks look closer.
  schedule.damping = 1e-11;
  PenaltyState penalty;
  penalty.Reset(problem);
  RoundState state;
  EXPECT_THAT(SolveRounds(problem, schedule, {}, &unknowns, &penalty, &state), test::IsOk());
  EXPECT_TRUE(state.is_converged) << state.violation.Worst();
  Optimum optimum;
  for (int k = 1; k <= pushes; ++k) {
    optimum.force_n.push_back(kDriveForceN * unknowns.controls(moved, k));
    optimum.cost_n2_s += optimum.force_n.back() * optimum.force_n.back() * duration_s / pushes;
  }
  return optimum;
}

// F1. Moving a mass m by D from rest to rest in T with least integral of the squared force costs 12
// m^2 D^2 / T^3; with N equal pushes 12 / (1 - 1/N^2) times m^2 D^2 / T^3, the push falling
// linearly from its first value 6 N / (N + 1). Source: the example is in Kelly, SIAM Review 59
// (2017) 849-904; the discrete answer is derived: minimise the sum of squares under the two linear
// end conditions.
TEST(OptimumTest, BlockMoveCostsWhatTheDiscreteClosedFormSays) {
  const double duration_s = 0.1;
  const double unit = kMassKg * kMassKg * kDistanceM * kDistanceM / std::pow(duration_s, 3);
  const double force_unit_n = kMassKg * kDistanceM / (duration_s * duration_s);
  for (const int pushes : {5, 10, 20, 40, 80}) {
    // Lift is free: the foot hangs 50 mm above the surface and is held by nothing along x but its
    // drive. It would fall, so it is put on the surface without friction instead.
    const Optimum optimum = Solve(MakeBenchMass(false, 0.0),
                                  0.0,
                                  duration_s,
                                  pushes,
                                  {0.0, 0.0, kDistanceM, 0.0},
                                  kTightTolerance);
    const double expected = 12.0 / (1.0 - 1.0 / (static_cast<double>(pushes) * pushes));
    // 1e-6: the stopping tolerance 2e-8 on the equations of motion, times their number.
    EXPECT_NEAR(optimum.cost_n2_s / unit, expected, 1e-6 * expected) << pushes;
    // At the optimum the cost is flat: an error of 1e-6 in it lets the forces err by its root.
    EXPECT_NEAR(optimum.force_n.front() / force_unit_n, 6.0 * pushes / (pushes + 1.0), 1e-3);
    EXPECT_NEAR(optimum.force_n.front(), -optimum.force_n.back(), 1e-3 * force_unit_n);
  }
}

// F2. Pushing or pulling a mass by D from rest to rest in T against Coulomb friction F = mu m g:
//   T < tau = sqrt(6 m D / F):  J = 12 m^2 D^2 / T^3 + F^2 T;   T >= tau:  J = 4/3 F^2 tau, with a
//   wait.
// Derived; for T < tau the force is F + m u with u the frictionless answer. The figures are those
// of a gram-scale case (2 g, 20 mm, mu 0.3), recomputed with a quadratic programme. The friction
// law at the end of a step leaves the last push free, so the discrete cost is lower by O(h):
// convergence is asked for, not equality.
TEST(OptimumTest, PushAgainstFrictionConvergesToTheClosedForm) {
  const double friction = 0.3;
  const double force_n = friction * kMassKg * kGravityMPerS2;
  const double tau_s = std::sqrt(6.0 * kMassKg * kDistanceM / force_n);
  EXPECT_NEAR(tau_s, 0.2019275109384609, 1e-12);
  struct Case {
    double duration_s;
    double cost_n2_s;
  };
  for (const Case& at : {Case{0.7 * tau_s, 1.16956623560716e-05},
                         Case{0.85 * tau_s, 9.743563079228682e-06},
                         Case{1.5 * tau_s, 9.32770374500391e-06}}) {
    double previous = 1.0;
    for (const int pushes : {10, 20, 40}) {
      const Optimum optimum = Solve(MakeBenchMass(false, 0.0),
                                    friction,
                                    at.duration_s,
                                    pushes,
                                    {0.0, 0.0, kDistanceM, 0.0},
                                    kLooseTolerance);
      const double error = std::abs(optimum.cost_n2_s / at.cost_n2_s - 1.0);
      if (at.duration_s < tau_s) {
        EXPECT_LT(error, 0.65 * previous) << at.duration_s << " s, " << pushes << " pushes";
      }
      previous = error;
    }
    EXPECT_LT(previous, 0.01);
  }
}

// F4. Throwing a mass from rest upwards so that it has speed v after the stroke s at time T, with
// least integral of the squared force: J = m^2 (4 (v^2 T^2 - 3 v s T + 3 s^2) / T^3 + 2 g v + g^2
// T), force linear in time. Derived; rise after take-off v^2 / (2 g).
TEST(OptimumTest, LaunchOfAHopConvergesToTheClosedFormWithOrderTwo) {
  struct Case {
    double stroke_m;
    double speed;
    double duration_s;
    double cost_n2_s;
    double first_force_n;
  };
  for (const Case& at :
       {Case{0.003, 0.3132091952673165, 0.02, 5.200423534834505e-05, 0.0469781609},
        Case{0.003, 0.442944691807002, 0.02, 9.39610983624928e-05, 0.0210310616},
        Case{0.003, 0.626418390534633, 0.012, 0.00020056225755452504, 0.0608138698}}) {
    double previous = 0.0;
    for (const int pushes : {20, 40, 80}) {
      const Optimum optimum = Solve(MakeBenchMass(true, 0.05),
                                    0.0,
                                    at.duration_s,
                                    pushes,
                                    {0.0, 0.0, at.stroke_m, at.speed},
                                    kTightTolerance);
      const double error = std::abs(optimum.cost_n2_s / at.cost_n2_s - 1.0);
      if (previous > 0.0) {
        // The error is down to 1e-7 of the cost, where the stopping tolerance shows in the order.
        EXPECT_NEAR(std::log2(previous / error), 2.0, 0.15) << pushes;
      }
      previous = error;
      if (pushes == 80) {
        EXPECT_LT(error, 2e-3);
        EXPECT_NEAR(optimum.force_n.front(), at.first_force_n, 0.02 * 0.1);
      }
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
