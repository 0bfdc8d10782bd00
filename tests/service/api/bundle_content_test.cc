#include "service/api/bundle_content.h"

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/robot/digest.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::HasSubstr;

class BundleCheckerTest : public testing::Test {
 protected:
  BundleCheckerTest() {
    *robot_entry_.mutable_robot() = test::MakeQuadruped();
    *surface_entry_.mutable_surface() = test::MakeSurface(0.5);
    gait_ = test::MakeSineGait(robot_entry_.robot(), {});
    gait_.set_robot_digest(solver::RobotDigest(robot_entry_.robot()));
    gait_.set_surface_digest(solver::SurfaceDigest(surface_entry_.surface()));
    gait_.set_name(solver::GaitName(gait_));
  }

  v1::BundleEntry GaitEntry() const {
    v1::BundleEntry entry;
    entry.set_gait(gait_.SerializeAsString());
    return entry;
  }

  void CheckDescriptions() {
    EXPECT_THAT(checker_.Check(robot_entry_), IsOk());
    EXPECT_THAT(checker_.Check(surface_entry_), IsOk());
  }

  v1::BundleEntry robot_entry_;
  v1::BundleEntry surface_entry_;
  v1::Gait gait_;
  BundleChecker checker_;
};

TEST_F(BundleCheckerTest, GivesDigestsAndTheKeyOfTheOrder) {
  const auto robot = checker_.Check(robot_entry_);
  ASSERT_THAT(robot, IsOk());
  EXPECT_EQ(robot->digest, gait_.robot_digest());
  ASSERT_THAT(checker_.Check(surface_entry_), IsOk());
  const auto gait = checker_.Check(GaitEntry());
  ASSERT_THAT(gait, IsOk());
  v1::GaitOrder order;
  order.set_stride_frequency_hz(10.0);
  order.mutable_task()->mutable_advance()->set_advance_m(0.008);
  EXPECT_EQ(gait->key, solver::OrderKey(gait_.robot_digest(), gait_.surface_digest(), order));
}

TEST_F(BundleCheckerTest, RefusesAGaitBeforeItsDescriptions) {
  ASSERT_THAT(checker_.Check(robot_entry_), IsOk());
  EXPECT_THAT(checker_.Check(GaitEntry()),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("does not come after")));
}

TEST_F(BundleCheckerTest, RefusesAGaitOfAnotherNamesDescriptions) {
  CheckDescriptions();
  const auto is_refused =
      HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("does not come after"));
  const v1::Gait gait = gait_;
  gait_.set_robot("another");
  gait_.set_name(solver::GaitName(gait_));
  EXPECT_THAT(checker_.Check(GaitEntry()), is_refused);
  gait_ = gait;
  gait_.set_surface("another");
  gait_.set_name(solver::GaitName(gait_));
  EXPECT_THAT(checker_.Check(GaitEntry()), is_refused);
}

TEST_F(BundleCheckerTest, RefusesAGaitOfARobotWithOtherLegs) {
  CheckDescriptions();
  const v1::Robot hexapod = test::MakeHexapod();
  v1::Gait gait = test::MakeSineGait(hexapod, {});
  gait.set_robot(gait_.robot());
  gait.set_robot_digest(gait_.robot_digest());
  gait.set_surface_digest(gait_.surface_digest());
  gait.set_name(solver::GaitName(gait));
  gait_ = gait;
  EXPECT_THAT(checker_.Check(GaitEntry()),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("has 6 legs")));
}

TEST_F(BundleCheckerTest, WantsAllSurfacesOfAGaitBeforeIt) {
  CheckDescriptions();
  v1::BundleEntry felt;
  *felt.mutable_surface() = test::MakeSurface(0.75);
  felt.mutable_surface()->set_name("felt");
  v1::SurfaceVersion& version = *gait_.add_also_on();
  version.set_surface("felt");
  version.set_digest(solver::SurfaceDigest(felt.surface()));
  gait_.set_name(solver::GaitName(gait_));
  EXPECT_THAT(checker_.Check(GaitEntry()),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("does not come after")));
  ASSERT_THAT(checker_.Check(felt), IsOk());
  const auto gait = checker_.Check(GaitEntry());
  ASSERT_THAT(gait, IsOk());
  v1::GaitOrder order;
  order.set_stride_frequency_hz(10.0);
  order.mutable_task()->mutable_advance()->set_advance_m(0.008);
  EXPECT_EQ(
      gait->key,
      solver::OrderKey(gait_.robot_digest(), gait_.surface_digest(), order, {version.digest()}));
}

TEST_F(BundleCheckerTest, RefusesAGaitThatWasChanged) {
  CheckDescriptions();
  gait_.set_voltage_v(3, 300.0);
  EXPECT_THAT(checker_.Check(GaitEntry()),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("not what its name says")));
}

TEST_F(BundleCheckerTest, RefusesAGaitThatIsNoTrajectory) {
  CheckDescriptions();
  gait_.set_knot_period_s(1e-310);
  gait_.set_name(solver::GaitName(gait_));
  EXPECT_THAT(checker_.Check(GaitEntry()),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("cannot be played")));
}

TEST_F(BundleCheckerTest, RefusesWhatBreaksARule) {
  robot_entry_.mutable_robot()->mutable_body()->set_mass_kg(-1.0);
  EXPECT_THAT(checker_.Check(robot_entry_),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("body.mass_kg is -1")));
  surface_entry_.mutable_surface()->set_friction_coefficient(-0.5);
  EXPECT_THAT(
      checker_.Check(surface_entry_),
      HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("friction_coefficient is -0.5")));
  v1::BundleEntry entry;
  EXPECT_THAT(checker_.Check(entry),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("holds no")));
  entry.set_gait("\xff\xff");
  EXPECT_THAT(checker_.Check(entry),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("cannot be read")));
}

}  // namespace
}  // namespace gaitshelf::service
