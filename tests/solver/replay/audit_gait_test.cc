// Covers solver/replay/judge_replay.cc
#include "solver/replay/audit_gait.h"

#include <atomic>
#include <cmath>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/replay/judge_replay.h"
#include "solver/replay/limits.h"
#include "tests/solver/replay/made_gaits.h"
#include "tests/solver/replay/whole_samples.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::AllOf;
using ::testing::Contains;
using ::testing::Each;
using ::testing::HasSubstr;
using ::testing::SizeIs;

AuditRequest HopRequest() {
  AuditRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(0.45);
  request.gait = test::MakeHop(request.robot, request.surface);
  return request;
}

AuditRequest CoastingRequest() {
  AuditRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(0.0);
  request.gait = test::MakeCoasting(request.robot, request.surface);
  return request;
}

TEST(AuditGaitTest, PassesAHopThatObeysTheLaws) {
  const auto audit = AuditGait(HopRequest());
  ASSERT_THAT(audit, test::IsOk());
  EXPECT_EQ(audit->verdict(), v1::VERDICT_GOOD) << audit->DebugString();
  EXPECT_LT(audit->residuals().worst_ratio(), 1e-6);
  EXPECT_GT(audit->replay().rise_m(), 0.0015);
  EXPECT_NEAR(audit->replay().plan_ratio(), 1.0, 0.1);
  EXPECT_THAT(audit->replay().touchdown_ratio(), Each(::testing::Ge(1.0)));
  EXPECT_LE(audit->replay().peak_voltage_v(), 200.0);
}

TEST(AuditGaitTest, IsAsGoodAsOnTheWorstOfSeveralSurfaces) {
  // Coasting without friction is lawful there alone: felt brakes it.
  AuditRequest request = CoastingRequest();
  v1::Surface felt = test::MakeSurface(0.45);
  felt.set_name("felt");
  request.also_on = {felt};
  request.gait.add_also_on()->set_digest(SurfaceDigest(felt));
  const auto audit = AuditGait(request);
  ASSERT_THAT(audit, test::IsOk());
  EXPECT_EQ(audit->verdict(), v1::VERDICT_FAILED);
  ASSERT_EQ(audit->surfaces_size(), 2);
  EXPECT_TRUE(audit->surfaces(0).is_lawful());
  EXPECT_NEAR(audit->surfaces(0).slip_m(), 0.009, 1e-4);
  EXPECT_EQ(audit->surfaces(1).surface(), "felt");
  EXPECT_FALSE(audit->surfaces(1).is_lawful());
  EXPECT_GT(audit->surfaces(1).worst_residual_ratio(), 0.01);
  EXPECT_LT(audit->surfaces(1).plan_ratio(), 0.5);
  EXPECT_EQ(audit->worst_advance_error_ratio(), std::abs(audit->surfaces(1).plan_ratio() - 1.0));
  EXPECT_THAT(audit->reasons(), Contains(::testing::StartsWith("On felt: The replay advances")));
}

TEST(AuditGaitTest, RefusesFurtherSurfacesThatTheGaitDoesNotName) {
  AuditRequest request = CoastingRequest();
  request.also_on = {test::MakeSurface(0.45)};
  EXPECT_THAT(AuditGait(request),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              HasSubstr("also_on has the digests ''; the further surfaces given")));
}

TEST(AuditGaitTest, RefusesATransitionWithoutItsGaits) {
  AuditRequest request = CoastingRequest();
  request.gait.mutable_task()->mutable_transition()->set_from_gait("g-1");
  EXPECT_THAT(AuditGait(request),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("other gaits than")));
}

TEST(AuditGaitTest, FailsFeetThatDragAndNamesThem) {
  const auto audit = AuditGait(CoastingRequest());
  ASSERT_THAT(audit, test::IsOk());
  EXPECT_EQ(audit->verdict(), v1::VERDICT_FAILED);
  EXPECT_LT(audit->residuals().worst_ratio(), 1e-9);
  EXPECT_NEAR(audit->replay().plan_ratio(), 1.0, 1e-3);
  EXPECT_THAT(audit->reasons(), SizeIs(4)) << audit->DebugString();
  EXPECT_THAT(audit->reasons(),
              Contains("Foot leg-2 drags: it slides 9.00 mm under load in a cycle; the limit is "
                       "2.25 mm."));
}

TEST(AuditGaitTest, FailsAPlanThatPromisesTooMuch) {
  AuditRequest request = CoastingRequest();
  // The cycle's displacement and the last interval no longer agree with the knots.
  request.gait.set_advance_m(0.0105);
  const auto audit = AuditGait(request);
  ASSERT_THAT(audit, test::IsOk());
  EXPECT_EQ(audit->verdict(), v1::VERDICT_FAILED);
  EXPECT_GT(audit->residuals().periodicity_ratio(), 1e-3);
  EXPECT_THAT(audit->reasons(), Contains(HasSubstr("breaks a law at its own knots")));
}

TEST(AuditGaitTest, FailsARobotThatFallsOver) {
  AuditRequest request = HopRequest();
  // Its centre of mass is beyond its feet, unlike what was planned.
  test::SetVector(request.robot.mutable_body()->mutable_center_of_mass_m(), 0.03, 0.0, 0.0);
  request.gait.set_robot_digest(RobotDigest(request.robot));
  const auto audit = AuditGait(request);
  ASSERT_THAT(audit, test::IsOk());
  EXPECT_EQ(audit->verdict(), v1::VERDICT_FAILED);
  EXPECT_THAT(audit->reasons(), Contains(HasSubstr("In the replay the robot falls")));
}

TEST(AuditGaitTest, ReplaysTheWholeMechanismOfLinkageLegs) {
  const test::WholeSample sample = test::MakeWholeSample(0.45);
  AuditRequest request;
  request.robot = sample.robot;
  request.surface = test::MakeSurface(0.45);
  request.gait = test::MakeSwaying(sample, 1e-3);
  request.gait.set_surface_digest(SurfaceDigest(request.surface));
  request.gait.set_advance_m(0.001);  // it does not go anywhere
  const auto audit = AuditGait(request);
  ASSERT_THAT(audit, test::IsOk());
  const v1::MechanismReport& mechanism = audit->replay().mechanism();
  EXPECT_EQ(mechanism.coordinate_count(), 38);
  EXPECT_EQ(mechanism.loop_equation_count(), 24);
  EXPECT_GT(mechanism.most_bent().angle_rad(), 0.1);
  EXPECT_NEAR(mechanism.compiled_deviation_ratio(),
              mechanism.compiled_advance_m() / 0.001 - audit->replay().plan_ratio(),
              1e-12);
  EXPECT_LT(std::abs(mechanism.compiled_deviation_ratio()), AuditLimits::kCompiledDeviationRatio);
  EXPECT_GT(mechanism.compiled_cpu_s(), 0.0);
  EXPECT_THAT(audit->reasons(), Contains(HasSubstr("The replay advances")));
  EXPECT_THAT(audit->reasons(), testing::Not(Contains(HasSubstr("compiled legs"))));
}

TEST(AuditGaitTest, FailsAGaitWhoseCompiledLegsGoAnotherWay) {
  const test::WholeSample sample = test::MakeWholeSample(0.45);
  AuditRequest request;
  request.robot = sample.robot;
  request.surface = test::MakeSurface(0.45);
  request.gait = test::MakeSwaying(sample, 1e-3);
  request.gait.set_surface_digest(SurfaceDigest(request.surface));
  // So short that what the fit of the legs leaves out counts.
  request.gait.set_advance_m(1e-12);
  const auto audit = AuditGait(request);
  ASSERT_THAT(audit, test::IsOk());
  ASSERT_GT(std::abs(audit->replay().mechanism().compiled_deviation_ratio()),
            AuditLimits::kCompiledDeviationRatio);
  EXPECT_THAT(audit->reasons(), Contains(HasSubstr("On the compiled legs the replay goes")));
}

TEST(CompiledLegsFaultTest, SaysHowFarApartTheReplaysAre) {
  v1::ReplayReport replay;
  EXPECT_EQ(CompiledLegsFault(replay), "");
  replay.set_advance_m(0.009);
  replay.mutable_mechanism()->set_compiled_advance_m(0.0087);
  replay.mutable_mechanism()->set_compiled_deviation_ratio(-0.019);
  EXPECT_EQ(CompiledLegsFault(replay), "");
  replay.mutable_mechanism()->set_compiled_deviation_ratio(-0.033);
  EXPECT_EQ(CompiledLegsFault(replay),
            "On the compiled legs the replay goes 8.70 mm, on the whole mechanism 9.00 mm: 3.3 % "
            "of the plan apart; the limit is 2 %, or spread and rival mean nothing.");
}

// Front feet of a body that sidesteps to the left and turns to the left go sideways by both, rear
// feet by the difference: 3.5 and 0.5 mm here, of which they may slide that and a little more.
TEST(JudgeReplayTest, AllowsFeetTheSlidingThatTurnAndSidestepAskOfThem) {
  const v1::Robot robot = test::MakeQuadruped();
  const RobotModel model = *RobotModel::Create(robot, test::MakeSurface(0.45), Scale());
  v1::Gait gait;
  gait.set_is_periodic(true);
  gait.set_advance_m(0.004);
  gait.set_sidestep_m(0.002);
  gait.set_turn_rad(0.1);
  v1::ReplayReport replay;
  replay.set_advance_m(gait.advance_m());
  replay.set_sidestep_m(gait.sidestep_m());
  replay.set_turn_rad(gait.turn_rad());
  for (const v1::Leg& leg : robot.legs()) {
    gait.add_foot_names(leg.name());
    replay.add_slip_m(0.0025);
  }
  v1::Audit audit;
  JudgeReplay(model, gait, replay, &audit);
  EXPECT_THAT(audit.reasons(),
              testing::ElementsAre(testing::StartsWith("Foot leg-3 drags"),
                                   testing::StartsWith("Foot leg-4 drags")));
}

TEST(AuditGaitTest, RefusesAGaitOfAnotherRobotAndNamesBothDigests) {
  AuditRequest request = HopRequest();
  request.robot.mutable_body()->set_mass_kg(2e-3);
  EXPECT_THAT(AuditGait(request),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              AllOf(HasSubstr("robot_digest is '" + request.gait.robot_digest()),
                                    HasSubstr(RobotDigest(request.robot)))));
}

TEST(AuditGaitTest, RefusesAGaitOfAnotherSurface) {
  AuditRequest request = HopRequest();
  request.surface.set_friction_coefficient(0.2);
  EXPECT_THAT(
      AuditGait(request),
      test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("surface_digest is '")));
}

TEST(AuditGaitTest, RefusesArraysOfAWrongSizeAllAtOnce) {
  AuditRequest request = HopRequest();
  request.gait.mutable_voltage_v()->RemoveLast();
  request.gait.add_foot_force_n(0.0);
  EXPECT_THAT(AuditGait(request),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              AllOf(HasSubstr("voltage_v has 1279 numbers; it must have 1280"),
                                    HasSubstr("foot_force_n has 1921 numbers"))));
}

TEST(AuditGaitTest, StopsWhenAsked) {
  AuditRequest request = HopRequest();
  const std::atomic<bool> stop = true;
  request.stop = &stop;
  EXPECT_EQ(AuditGait(request).status().code(), absl::StatusCode::kCancelled);
}

}  // namespace
}  // namespace gaitshelf::solver
