// Masses on springs: sliding on a rough surface and landing on a springy leg. Each is a robot
// description, played by the replay's own step.
#include <cmath>
#include <vector>

#include <gtest/gtest.h>

#include "tests/reference/play.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::VectorXd;
using test::kG;
using test::Play;

// A leg without losses or stops, whose two coordinates have these stiffnesses.
v1::LumpedLeg* AddSpringLeg(v1::Robot* robot,
                            double foot_z,
                            double foot_mass_kg,
                            double lift_n_per_m,
                            double swing_n_per_m) {
  v1::LumpedLeg* leg = test::AddLeg(robot, 0.0, 0.0, foot_z)->mutable_lumped();
  leg->set_foot_mass_kg(foot_mass_kg);
  for (v1::LegCoordinate* coordinate : {leg->mutable_lift(), leg->mutable_swing()}) {
    coordinate->clear_bimorph();
    coordinate->set_min_m(-0.1);
    coordinate->set_max_m(0.1);
    coordinate->set_moving_mass_kg(0.0);
    coordinate->set_damping_n_s_per_m(0.0);
    coordinate->set_stop_stiffness_n_per_m(0.0);
  }
  leg->mutable_lift()->set_stiffness_n_per_m(lift_n_per_m);
  leg->mutable_swing()->set_stiffness_n_per_m(swing_n_per_m);
  return leg;
}

// A mass on a spring and a rough surface loses 2 mu m g / k of amplitude in every half cycle (A.
// Marchewka, D. S. Abbott and R. J. Beichner, Am. J. Phys. 72 (2004) 477-483, abstract) and stops
// where the spring is weaker than friction. 2 g, 20 N/m, mu 0.2, from 10 mm: 25 half cycles, stop
// at -0.19 mm after 0.785398 s, by that recursion.
TEST(CoulombOscillatorTest, LosesTheSameAmplitudeInEveryHalfCycle) {
  v1::Robot robot = test::MakeBody(1.0, 1e-3);
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  AddSpringLeg(&robot, 0.0, 0.002, 0.0, 20.0);
  constexpr double kStep = 5e-5;
  constexpr double kLoss = 2.0 * 0.2 * 0.002 * kG / 20.0;
  Play play(robot, 0.2, 0.0, kStep);
  play.Start(Eigen::Vector2d(0.0, 0.01), VectorXd::Zero(2));
  std::vector<double> turns;
  double time_s = 0.0, stop_s = 0.0;
  double last = 0.0;
  for (int i = 0; i < 20000; ++i) {
    const double before = play.q()[1];
    play.Step();
    ASSERT_FALSE(HasFatalFailure());
    time_s += kStep;
    const double moved = play.q()[1] - before;
    // Creep below the step's tolerance is no motion.
    if (std::abs(moved) > 1e-9) {
      stop_s = time_s;
    }
    if (moved * last < 0.0 && std::abs(moved) > 1e-9) {
      turns.push_back(before);
    }
    last = std::abs(moved) > 1e-9 ? moved : last;
  }
  ASSERT_EQ(turns.size(), 24u);
  // The first impulses of a step are half of what they should be: an error of the order of the
  // step.
  for (size_t i = 0; i < turns.size(); ++i) {
    const double amplitude = 0.01 - static_cast<double>(i + 1) * kLoss;
    EXPECT_NEAR(std::abs(turns[i]), amplitude, 2e-5) << i;
  }
  EXPECT_NEAR(play.q()[1], -0.00019, 2e-5);
  EXPECT_NEAR(stop_s, 0.7853981633974483, 0.002);
}

// A mass that lands with speed v on a massless springy leg stays on it for (2 / w) (pi - atan(w v /
// g)) and is lowered by g / w^2 + sqrt((g / w^2)^2 + (v / w)^2), w^2 = k / m. Own derivation;
// figures computed apart from this program.
TEST(SpringLandingTest, TakesTheContactTimeAndCompressionOfTheClosedForm) {
  struct Row {
    double speed, frequency_hz, contact_s, compression_m;
  };
  for (const Row& row : {Row{0.1, 10, 0.08186718546573839, 0.005435794721545847},
                         Row{0.1, 20, 0.035549321188641916, 0.0016307692301677631},
                         Row{0.3, 10, 0.06527451216816992, 0.007867466883282126},
                         Row{0.5, 20, 0.027465000910702798, 0.004648303365272405},
                         Row{1.0, 10, 0.054930001821405595, 0.01859321346108962},
                         Row{1.0, 20, 0.026239936279047967, 0.008603183970345426}}) {
    constexpr double kMassKg = 0.002;
    constexpr double kFootRatio = 1e-6;  // of the mass; the leg of the closed form has none
    constexpr double kStep = 2e-5;
    const double omega = 2.0 * M_PI * row.frequency_hz;
    v1::Robot robot = test::MakeBody(kMassKg, 1e-6);
    AddSpringLeg(&robot, -0.05, kFootRatio * kMassKg, kMassKg * omega * omega, 1e3);
    Play play(robot, 0.5, 0.0, kStep);
    VectorXd v = VectorXd::Zero(8);
    v[2] = -row.speed;
    play.Start(play.model().ReferencePosture(), v);
    double compression_m = 0.0;
    int steps = 0;
    do {
      play.Step();
      ASSERT_FALSE(HasFatalFailure());
      ++steps;
      compression_m = std::max(compression_m, play.q()[6]);
    } while (play.report().foot_forces[2] > 0.0 && steps < 10000);
    EXPECT_NEAR(steps * kStep, row.contact_s, 2.0 * kStep) << row.speed << " " << row.frequency_hz;
    EXPECT_NEAR(compression_m, row.compression_m, 1e-3 * row.compression_m) << row.speed;
  }
}

}  // namespace
}  // namespace gaitshelf::solver
