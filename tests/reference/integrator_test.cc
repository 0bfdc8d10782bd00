// The midpoint variational integrator against discrete closed forms and reference trajectories.
//
// Scheme: L_d = h L((q0 + q1) / 2, (q1 - q0) / h), forces split half and half. Order 2 and exact
// momenta: Marsden and West, "Discrete mechanics and variational integrators", Acta Numerica 10
// (2001) 357-514 (theorems from memory). Figures marked "recomputed" come from a separate
// implementation in another language (SciPy, and 30-digit Taylor series for the references).
#include <algorithm>
#include <cmath>
#include <vector>

#include <Eigen/Cholesky>
#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "solver/replay/contact_step.h"
#include "tests/support/free_step.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Matrix2d;
using Eigen::Vector2d;
using Eigen::VectorXd;

constexpr double kG = 9.81;

// Mass 1, length 1, angle from hanging.
class Pendulum : public Lagrangian {
 public:
  Index coordinate_count() const override { return 1; }
  void Evaluate(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>& v,
                DerivativeOrder,
                LagrangianTerms* terms) const override {
    terms->Resize(1);
    terms->force[0] = -kG * std::sin(q[0]);
    terms->momentum[0] = v[0];
    terms->force_q(0, 0) = -kG * std::cos(q[0]);
    terms->momentum_v(0, 0) = 1.0;
  }
  double Energy(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>& v) const override {
    return 0.5 * v[0] * v[0] - kG * std::cos(q[0]);
  }
};

// Two point masses of 1 on rods of 1, absolute angles from hanging:
//   L = a'^2 + b'^2 / 2 + cos(a - b) a' b' + g (2 cos a + cos b)
class DoublePendulum : public Lagrangian {
 public:
  Index coordinate_count() const override { return 2; }
  void Evaluate(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>& v,
                DerivativeOrder,
                LagrangianTerms* terms) const override {
    terms->Resize(2);
    const double c = std::cos(q[0] - q[1]), s = std::sin(q[0] - q[1]);
    const double w = v[0] * v[1];
    terms->force = Vector2d(-s * w - 2.0 * kG * std::sin(q[0]), s * w - kG * std::sin(q[1]));
    terms->momentum = Vector2d(2.0 * v[0] + c * v[1], v[1] + c * v[0]);
    Matrix2d m;
    m << -c * w - 2.0 * kG * std::cos(q[0]), c * w, c * w, -c * w - kG * std::cos(q[1]);
    terms->force_q = m;
    m << -s * v[1], -s * v[0], s * v[1], s * v[0];
    terms->force_v = m;
    terms->momentum_q = m.transpose();
    m << 2.0, c, c, 1.0;
    terms->momentum_v = m;
  }
  double Energy(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>& v) const override {
    return v[0] * v[0] + 0.5 * v[1] * v[1] + std::cos(q[0] - q[1]) * v[0] * v[1] -
           kG * (2.0 * std::cos(q[0]) + std::cos(q[1]));
  }
};

// A point of mass 1 in the field of a centre of strength 1, in the plane.
class Orbit : public Lagrangian {
 public:
  Index coordinate_count() const override { return 2; }
  void Evaluate(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>& v,
                DerivativeOrder,
                LagrangianTerms* terms) const override {
    terms->Resize(2);
    const double r = q.norm();
    terms->force = -q / (r * r * r);
    terms->momentum = v;
    terms->force_q = -Matrix2d::Identity() / (r * r * r) + 3.0 * q * q.transpose() / std::pow(r, 5);
    terms->momentum_v = Matrix2d::Identity();
  }
  double Energy(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>& v) const override {
    return 0.5 * v.squaredNorm() - 1.0 / q.norm();
  }
};

// Plays `count` steps of h without contact.
void Play(const Lagrangian& system, double h, int count, KnotState* state) {
  MidpointInterval interval;
  interval.Resize(system.coordinate_count());
  const VectorXd no_force = VectorXd::Zero(system.coordinate_count());
  for (int i = 0; i < count; ++i) {
    const absl::Status status = test::StepFreely(system, no_force, h, state, &interval);
    ASSERT_TRUE(status.ok()) << status;
  }
}

// Energy at a knot: of the velocity that belongs to its momentum.
double KnotEnergy(const Lagrangian& system, const KnotState& state) {
  LagrangianTerms terms;
  const VectorXd rest = VectorXd::Zero(system.coordinate_count());
  system.Evaluate(state.position, rest, DerivativeOrder::kSecond, &terms);
  return system.Energy(state.position, terms.momentum_v.ldlt().solve(state.momentum));
}

// A leg on a bench whose swing is an oscillator of mass 1 with this stiffness and damping, in units
// of 0.05 m: one unit of swing stays inside the travel that a description allows.
RobotModel BenchOscillator(double stiffness, double damping) {
  v1::Robot robot = test::MakeBody(1.0, 1e-3);
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot.mutable_body()->set_clamp_height_m(1.0);
  v1::LumpedLeg* leg = test::AddLeg(&robot, 0.0, 0.0, 0.0)->mutable_lumped();
  leg->set_foot_mass_kg(0.25);
  for (v1::LegCoordinate* coordinate : {leg->mutable_lift(), leg->mutable_swing()}) {
    coordinate->clear_bimorph();
    coordinate->set_min_m(-0.1);
    coordinate->set_max_m(0.1);
    coordinate->set_moving_mass_kg(0.75);
    coordinate->set_stiffness_n_per_m(stiffness);
    coordinate->set_damping_n_s_per_m(damping);
    coordinate->set_stop_stiffness_n_per_m(0.0);
  }
  // The lift hangs stiff, so that gravity does not draw the foot down to the surface.
  leg->mutable_lift()->set_stiffness_n_per_m(1e4);
  Scale scale;
  scale.length_m = 0.05;
  return *RobotModel::Create(robot, test::MakeSurface(0.5), scale);
}

// Moves the bench oscillator from swing 1 at rest, through the free step or through the replay's
// step, in which the foot hangs far above the surface.
Vector2d PlayOscillator(const RobotModel& model, double h, int count, bool with_contact) {
  const Vector2d start(0.0, 1.0);
  if (!with_contact) {
    KnotState state = {start, VectorXd::Zero(2)};
    Play(model, h, count, &state);
    return Vector2d(state.position[1], state.momentum[1]);
  }
  ContactStepper stepper(&model);
  ReplayState state = StartWithVelocity(model, start, VectorXd::Zero(2), h);
  StepReport report;
  for (int i = 0; i < count; ++i) {
    EXPECT_TRUE(stepper.Step(VectorXd::Zero(2), h, &state, &report).ok());
  }
  return Vector2d(state.knot.position[1], state.knot.momentum[1]);
}

class OscillatorTest : public ::testing::TestWithParam<bool> {};

// The scheme turns a linear oscillator by exactly 2 atan(x / 2) a step, x = h omega; amplitude and
// energy stay. Table of omega_h / omega recomputed.
TEST_P(OscillatorTest, TurnsByTheSchemesOwnFrequency) {
  const RobotModel model = BenchOscillator(1.0, 0.0);
  const std::vector<Vector2d> table = {{0.01, 0.9999916667916645},
                                       {0.05, 0.9997917447568063},
                                       {0.1, 0.9991679144388553},
                                       {0.2, 0.9966865249116204},
                                       {0.5, 0.9799146525074566},
                                       {1.0, 0.9272952180016122},
                                       {2.0, 0.7853981633974483}};
  for (const Vector2d& row : table) {
    const double h = row[0];
    constexpr int kSteps = 100;
    const Vector2d state = PlayOscillator(model, h, kSteps, GetParam());
    const double angle = kSteps * h * row[1];
    EXPECT_NEAR(state[0], std::cos(angle), 1e-10) << h;
    EXPECT_NEAR(state[1], -std::sin(angle), 1e-10) << h;
    EXPECT_NEAR(state.squaredNorm(), 1.0, 1e-12) << h;
  }
}

// m 1, c 0.4, k 25, from 1 at rest to T 2. Discrete values recomputed; exact -0.5797646850758016.
TEST_P(OscillatorTest, DampsByTheForcedScheme) {
  const RobotModel model = BenchOscillator(25.0, 0.4);
  struct Row {
    int count;
    double q, p;
  };
  const std::vector<Row> table = {{100, -0.5831133340140153, 1.7805580823690996},
                                  {200, -0.580606034765301, 1.7968135013111757},
                                  {400, -0.5799752842926742, 1.800867966983371},
                                  {800, -0.5798173512433525, 1.801880992104356},
                                  {1600, -0.5797778526402514, 1.8021342113578018}};
  double last_error = 0.0;
  for (const Row& row : table) {
    const Vector2d state = PlayOscillator(model, 2.0 / row.count, row.count, GetParam());
    EXPECT_NEAR(state[0], row.q, 1e-9) << row.count;
    EXPECT_NEAR(state[1], row.p, 1e-9) << row.count;
    const double error = std::abs(state[0] - -0.5797646850758016);
    if (row.count > 200) {
      EXPECT_NEAR(std::log2(last_error / error), 2.0, 0.01) << row.count;
    }
    last_error = error;
  }
}

INSTANTIATE_TEST_SUITE_P(Steps, OscillatorTest, ::testing::Bool(), [](const auto& one) {
  return one.param ? "WithContactInactive" : "Free";
});

// From (1, 0.5) at rest to T 1. Discrete values and reference recomputed.
TEST(DoublePendulumTest, TakesTheDiscreteValues) {
  struct Row {
    int count;
    Vector2d q, p;
  };
  const std::vector<Row> table = {
      {100, {-0.25870405999479446, -1.0047508177393762}, {-3.064598441904996, -3.1002954177532973}},
      {200, {-0.2586690008231174, -1.0049748685650675}, {-3.0648351338541926, -3.0995319298738315}},
      {400, {-0.25866025643297863, -1.0050308670385493}, {-3.0648943596677007, -3.099340969109687}},
      {800, {-0.2586580716111036, -1.005044865766431}, {-3.0649091694185673, -3.0992932233703274}}};
  const Vector2d reference(-0.2586573434508034, -1.005049531930311);
  const DoublePendulum system;
  double last_error = 0.0;
  for (const Row& row : table) {
    KnotState state = {Vector2d(1.0, 0.5), Vector2d::Zero()};
    Play(system, 1.0 / row.count, row.count, &state);
    EXPECT_LT((state.position - row.q).norm(), 1e-9) << row.count;
    EXPECT_LT((state.momentum - row.p).norm(), 1e-9) << row.count;
    const double error = (state.position - reference).lpNorm<Eigen::Infinity>();
    if (row.count > 100) {
      EXPECT_NEAR(std::log2(last_error / error), 2.0, 0.001) << row.count;
    }
    last_error = error;
  }
}

struct EnergyTrack {
  double worst = 0.0;
  double slope = 0.0;
};

EnergyTrack FollowEnergy(const Lagrangian& system, double h, int count, KnotState state) {
  const double start = KnotEnergy(system, state);
  EnergyTrack track;
  double sum_t = 0.0, sum_e = 0.0, sum_tt = 0.0, sum_te = 0.0;
  for (int i = 0; i <= count; ++i) {
    const double t = i * h;
    const double e = KnotEnergy(system, state) - start;
    track.worst = std::max(track.worst, std::abs(e));
    sum_t += t;
    sum_e += e;
    sum_tt += t * t;
    sum_te += t * e;
    Play(system, h, i < count ? 1 : 0, &state);
  }
  const double n = count + 1;
  track.slope = (n * sum_te - sum_t * sum_e) / (n * sum_tt - sum_t * sum_t);
  return track;
}

// 30 s at h = 0.01: largest deviation 7.737e-4 J, four times less at half the step, and no drift.
// Recomputed.
TEST(DoublePendulumTest, KeepsItsEnergyNearForLong) {
  const DoublePendulum system;
  const KnotState start = {Vector2d(1.0, 0.5), Vector2d::Zero()};
  EXPECT_NEAR(KnotEnergy(system, start), -19.209816173277453, 1e-12);
  const EnergyTrack coarse = FollowEnergy(system, 0.01, 3000, start);
  const EnergyTrack fine = FollowEnergy(system, 0.005, 6000, start);
  EXPECT_NEAR(coarse.worst, 7.737215475280834e-4, 1e-7);
  EXPECT_NEAR(fine.worst, 1.937010247559101e-4, 1e-7);
  EXPECT_LT(std::abs(coarse.slope) * 30.0, 0.1 * coarse.worst);
}

TEST(DoublePendulumTest, RunsBackTheWayItCame) {
  const DoublePendulum system;
  KnotState state = {Vector2d(1.0, 0.5), Vector2d(0.3, -0.2)};
  const KnotState start = state;
  Play(system, 0.01, 100, &state);
  Play(system, -0.01, 100, &state);
  EXPECT_LT((state.position - start.position).norm(), 1e-12);
  EXPECT_LT((state.momentum - start.momentum).norm(), 1e-12);
}

// From 2 rad at rest to T 3. Discrete values and reference (1.487305566472368, -3.130652840491067)
// recomputed.
TEST(PendulumTest, TakesTheDiscreteValues) {
  struct Row {
    int count;
    double q, p;
  };
  const std::vector<Row> table = {{150, 1.4872998057693871, -3.1307984541075657},
                                  {300, 1.4873040679186806, -3.1306894679553334},
                                  {600, 1.4873051881854538, -3.1306620113582384},
                                  {1200, 1.487305471672334, -3.1306551340837587}};
  const Pendulum system;
  double last_error = 0.0;
  for (const Row& row : table) {
    KnotState state = {VectorXd::Constant(1, 2.0), VectorXd::Zero(1)};
    Play(system, 3.0 / row.count, row.count, &state);
    EXPECT_NEAR(state.position[0], row.q, 1e-9) << row.count;
    EXPECT_NEAR(state.momentum[0], row.p, 1e-9) << row.count;
    const double error = std::abs(state.position[0] - 1.487305566472368);
    if (row.count > 300) {
      EXPECT_NEAR(std::log2(last_error / error), 2.0, 0.02) << row.count;
    }
    last_error = error;
  }
}

// Eccentricity 0.3, 200 steps an orbit, 10 orbits: the angular momentum keeps to rounding, the
// energy error is 3.69e-4 in the first orbit and in the tenth. Recomputed.
TEST(OrbitTest, KeepsAngularMomentumAndBoundsTheEnergy) {
  constexpr double kEccentricity = 0.3;
  constexpr double kStep = 2.0 * M_PI / 200.0;
  const Orbit system;
  KnotState state = {Vector2d(1.0 - kEccentricity, 0.0),
                     Vector2d(0.0, std::sqrt((1.0 + kEccentricity) / (1.0 - kEccentricity)))};
  const auto momentum = [&state] {
    return state.position[0] * state.momentum[1] - state.position[1] * state.momentum[0];
  };
  ASSERT_NEAR(momentum(), 0.9539392014169457, 1e-15);
  double worst_first = 0.0, worst_last = 0.0;
  for (int i = 0; i < 2000; ++i) {
    Play(system, kStep, 1, &state);
    ASSERT_NEAR(momentum(), 0.9539392014169457, 1e-12);
    const double error = std::abs(KnotEnergy(system, state) + 0.5);
    (i < 200 ? worst_first : worst_last) = std::max(i < 200 ? worst_first : worst_last, error);
  }
  EXPECT_NEAR(worst_first, 3.694e-4, 1e-6);
  EXPECT_NEAR(worst_last, 3.694e-4, 1e-6);
}

}  // namespace
}  // namespace gaitshelf::solver
