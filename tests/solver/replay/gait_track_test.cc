#include "solver/replay/gait_track.h"

#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/solver/replay/made_gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::VectorXd;
using ::testing::AllOf;
using ::testing::HasSubstr;

class GaitTrackTest : public ::testing::Test {
 protected:
  GaitTrackTest()
      : surface_(test::MakeSurface(0.0)),
        model_(*RobotModel::Create(test::MakeQuadruped(), surface_, Scale())),
        gait_(test::MakeCoasting(test::MakeQuadruped(), surface_)) {}

  GaitTrack Track() const { return *GaitTrack::Create(gait_, model_); }

  v1::Surface surface_;
  RobotModel model_;
  v1::Gait gait_;
};

TEST_F(GaitTrackTest, ContinuesAPeriodicGaitMovedOnByItsAdvance) {
  const GaitTrack track = Track();
  EXPECT_EQ(track.knot_count(), 40);
  EXPECT_NEAR(track.duration(), 1.0 / 12.0, 1e-15);
  for (const Eigen::Index knot : {-81, -40, -1, 0, 39, 40, 120}) {
    EXPECT_NEAR(track.Position(knot)[0], 0.009 * static_cast<double>(knot) / 40.0, 1e-15) << knot;
    EXPECT_NEAR(track.Position(knot)[2], 0.011, 1e-15) << knot;
  }
}

TEST_F(GaitTrackTest, HoldsAHopAtItsEnds) {
  gait_.set_is_periodic(false);
  const GaitTrack track = Track();
  EXPECT_NEAR(track.duration(), 39.0 / 40.0 / 12.0, 1e-15);
  EXPECT_EQ(track.Position(-1), track.Position(0));
  EXPECT_EQ(track.Position(50), track.Position(39));
  VectorXd target, rate;
  track.LegTarget(10.0, &target, &rate);
  EXPECT_EQ(target, track.Position(39).tail(8));
  EXPECT_EQ(rate.norm(), 0.0);
}

TEST_F(GaitTrackTest, ATransitionMovesAtItsEnds) {
  gait_.set_is_periodic(false);
  for (int k = 0; k < 40; ++k) {
    gait_.set_leg_position_m(8 * k + 3, 1e-5 * k);
  }
  const double rate_m_per_s = 1e-5 * 12.0 * 40.0;
  for (const bool is_transition : {false, true}) {
    gait_.mutable_task()->Clear();
    if (is_transition) {
      gait_.mutable_task()->mutable_transition();
    }
    const GaitTrack track = Track();
    VectorXd target, rate;
    for (const double time : {0.0, 0.999999 * track.duration()}) {
      track.LegTarget(time, &target, &rate);
      // A hop comes to rest.
      EXPECT_NEAR(rate[3], (is_transition ? 1.0 : 0.5) * rate_m_per_s, 1e-4 * rate_m_per_s) << time;
    }
  }
}

TEST_F(GaitTrackTest, LegTargetMeetsTheKnotsAndIsExactForAParabola) {
  // Central differences and cubics reproduce a parabola.
  gait_.set_is_periodic(false);
  for (int k = 0; k < 40; ++k) {
    gait_.set_leg_position_m(8 * k + 3, 1e-6 * k * k - 2e-5 * k);
  }
  const GaitTrack track = Track();
  const double period = gait_.knot_period_s();
  VectorXd target, rate;
  for (const double place : {1.0, 5.0, 7.25, 20.5, 33.9}) {
    track.LegTarget(place * period, &target, &rate);
    EXPECT_NEAR(target[3], 1e-6 * place * place - 2e-5 * place, 1e-15) << place;
    EXPECT_NEAR(rate[3] * period, 2e-6 * place - 2e-5, 1e-15) << place;
  }
}

TEST_F(GaitTrackTest, VoltageIsLinearBetweenKnots) {
  gait_.set_voltage_v(8 * 4, 120.0);
  gait_.set_voltage_v(8 * 5, 140.0);
  EXPECT_NEAR(Track().Voltage(4.25 * gait_.knot_period_s())[0], 125.0, 1e-9);
}

TEST_F(GaitTrackTest, DriveIsTheVoltageOverItsRange) {
  gait_.set_voltage_v(1, 150.0);
  EXPECT_NEAR(Track().Drives(0)[1], 0.5, 1e-15);
}

TEST_F(GaitTrackTest, KnowsWhenThePlanLoadsAFoot) {
  gait_.set_foot_force_n(12 * 7 + 5, 0.0);  // foot 1, normal, knot 7
  const GaitTrack track = Track();
  EXPECT_FALSE(track.IsLoaded(7.5 * gait_.knot_period_s(), 1, 1e-6));
  EXPECT_TRUE(track.IsLoaded(8.5 * gait_.knot_period_s(), 1, 1e-6));
  EXPECT_TRUE(track.IsLoaded(7.5 * gait_.knot_period_s(), 0, 1e-6));
}

TEST_F(GaitTrackTest, RefusesEveryFaultAtOnce) {
  gait_.set_knot_period_s(0.0);
  gait_.set_advance_m(std::numeric_limits<double>::infinity());
  gait_.set_body_attitude_rad(3, std::numeric_limits<double>::quiet_NaN());
  gait_.add_leg_position_m(0.0);
  EXPECT_THAT(
      GaitTrack::Create(gait_, model_),
      test::HasStatus(absl::StatusCode::kInvalidArgument,
                      AllOf(HasSubstr("knot_period_s is 0; it must be more than 0"),
                            HasSubstr("advance_m is inf; it must be finite"),
                            HasSubstr("body_attitude_rad holds a number that is not"),
                            HasSubstr("leg_position_m has 321 numbers; it must have 320"))));
}

TEST_F(GaitTrackTest, RefusesTooFewKnots) {
  gait_.set_knot_count(3);
  EXPECT_THAT(GaitTrack::Create(gait_, model_),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              HasSubstr("knot_count is 3; it must be at least 4")));
}

TEST_F(GaitTrackTest, ContinuesAGaitThatTurnsAlongItsArc) {
  gait_.set_turn_rad(0.5);
  gait_.set_sidestep_m(0.002);
  const GaitTrack track = Track();
  const PlanarMotion motion = {0.009, 0.002, 0.5};
  const PlanarPose twice = motion.Times(2.0).End();
  EXPECT_NEAR(track.Position(80)[0], twice.x, 1e-15);
  EXPECT_NEAR(track.Position(80)[1], twice.y, 1e-15);
  EXPECT_NEAR(track.Position(80)[5], 1.0, 1e-15);
  const PlanarPose back = motion.Times(-1.0).End();
  EXPECT_NEAR(track.Position(-40)[0], back.x, 1e-15);
  EXPECT_NEAR(track.Position(-40)[1], back.y, 1e-15);
  // Forces turn with the body.
  gait_.set_foot_force_n(0, 0.001);
  const VectorXd forces = Track().FootForces(40);
  EXPECT_NEAR(forces[0], 0.001 * std::cos(0.5), 1e-15);
  EXPECT_NEAR(forces[1], 0.001 * std::sin(0.5), 1e-15);
}

}  // namespace
}  // namespace gaitshelf::solver
