#include "solver/replay/plan_residuals.h"

#include <cmath>
#include <functional>
#include <limits>
#include <string>

#include <gtest/gtest.h>

#include "tests/solver/replay/made_gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

v1::PlanResiduals Residuals(const v1::Gait& gait, double friction) {
  Scale scale;
  scale.length_m = 0.011;
  scale.mass_kg = 1.9e-3;
  scale.time_s = std::sqrt(0.011 / kGravityMPerS2);
  const RobotModel model =
      *RobotModel::Create(test::MakeQuadruped(), test::MakeSurface(friction), scale);
  return ComputePlanResiduals(model, *GaitTrack::Create(gait, model));
}

v1::Gait Coasting() { return test::MakeCoasting(test::MakeQuadruped(), test::MakeSurface(0.0)); }

v1::Gait Hop() { return test::MakeHop(test::MakeQuadruped(), test::MakeSurface(0.45)); }

TEST(PlanResidualsTest, AreSmallForMotionsThatObeyTheLaws) {
  EXPECT_LT(Residuals(Coasting(), 0.0).worst_ratio(), 1e-9);
  EXPECT_LT(Residuals(Hop(), 0.45).worst_ratio(), 1e-7);
}

struct Fault {
  std::string name;
  std::function<void(v1::Gait*)> make;
  std::function<double(const v1::PlanResiduals&)> residual;
  double size;
};

class PlanFaultTest : public ::testing::TestWithParam<Fault> {};

// Every law has a residual that sees its breach, of the size of the breach.
TEST_P(PlanFaultTest, IsSeenByItsResidual) {
  v1::Gait gait = Coasting();
  GetParam().make(&gait);
  const v1::PlanResiduals residuals = Residuals(gait, 0.0);
  EXPECT_NEAR(GetParam().residual(residuals), GetParam().size, 0.01 * GetParam().size);
  EXPECT_GE(residuals.worst_ratio(), GetParam().residual(residuals));
}

constexpr double kWeightN = 1.9e-3 * 9.81;

INSTANTIATE_TEST_SUITE_P(
    Faults,
    PlanFaultTest,
    ::testing::Values(
        Fault{"Dynamics",
              [](v1::Gait* gait) { gait->set_voltage_v(8 * 5 + 1, 110.0); },
              [](const v1::PlanResiduals& r) { return r.dynamics_ratio(); },
              1.2e-3 * 10.0 / 12.3 / kWeightN},
        Fault{"Penetration",
              [](v1::Gait* gait) { gait->set_body_position_m(3 * 9 + 2, 0.010); },
              [](const v1::PlanResiduals& r) { return r.penetration_ratio(); },
              1.0 / 11.0},
        Fault{"Complementarity",
              [](v1::Gait* gait) { gait->set_body_position_m(3 * 9 + 2, 0.012); },
              [](const v1::PlanResiduals& r) { return r.complementarity_ratio(); },
              0.25 / 11.0},
        Fault{"Cone",
              [](v1::Gait* gait) { gait->set_foot_force_n(12 * 3 + 1, 0.1 * kWeightN); },
              [](const v1::PlanResiduals& r) { return r.cone_ratio(); },
              0.1},
        Fault{"Pull",
              [](v1::Gait* gait) { gait->set_foot_force_n(12 * 3 + 2, -0.1 * kWeightN); },
              [](const v1::PlanResiduals& r) { return r.cone_ratio(); },
              0.1},
        Fault{"Dissipation",
              [](v1::Gait* gait) { gait->set_foot_force_n(12 * 3, 0.1 * kWeightN); },
              [](const v1::PlanResiduals& r) { return r.dissipation_ratio(); },
              0.1 * 0.009 * 12.0 / std::sqrt(0.011 * 9.81)},
        Fault{"Voltage",
              [](v1::Gait* gait) { gait->set_voltage_v(8 * 5 + 1, 205.0); },
              [](const v1::PlanResiduals& r) { return r.voltage_ratio(); },
              0.05},
        Fault{"Travel",
              [](v1::Gait* gait) { gait->set_leg_position_m(8 * 5 + 1, 0.005); },
              [](const v1::PlanResiduals& r) { return r.travel_ratio(); },
              0.5 / 11.0},
        Fault{"Periodicity",
              [](v1::Gait* gait) { gait->set_advance_m(0.0101); },
              [](const v1::PlanResiduals& r) { return r.periodicity_ratio(); },
              1.1 / 11.0}),
    [](const auto& one) { return one.param.name; });

TEST(PlanResidualsTest, NeverPassANumberThatIsNotFinite) {
  v1::Gait gait = Hop();
  const RobotModel model =
      *RobotModel::Create(test::MakeQuadruped(), test::MakeSurface(0.45), Scale());
  // The track refuses it before the residuals see it.
  gait.set_voltage_v(40, std::numeric_limits<double>::quiet_NaN());
  EXPECT_FALSE(GaitTrack::Create(gait, model).ok());
  // What overflows on the way must not pass for small.
  v1::Gait huge = Hop();
  huge.set_body_position_m(3 * 20, 1e200);
  EXPECT_FALSE(Residuals(huge, 0.45).worst_ratio() < 1.0);
}

}  // namespace
}  // namespace gaitshelf::solver
