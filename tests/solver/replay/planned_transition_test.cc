// Transitions between gaits of the demonstration's robot, planned and replayed between their
// cycles.
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"
#include "solver/replay/audited_plan.h"
#include "tests/support/demo.h"
#include "tests/support/plans.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

const AuditedPlanSteps& Steps() {
  static const AuditedPlanSteps* const steps = new AuditedPlanSteps{
      .plan = [](const PlanRequest& request, int /*variant*/) { return PlanGait(request, {}); },
      .audit = AuditGait};
  return *steps;
}

PlanRequest Request() {
  PlanRequest request;
  request.robot = test::ReadDemoRobot("weevil-lumped");
  request.surface = test::ReadDemoSurface("liner-felt");
  return request;
}

v1::Gait GaitAt(double stride_frequency_hz) {
  PlanRequest request = Request();
  request.order = test::MakeAdvanceOrder(stride_frequency_hz, 0.009);
  const auto gait = PlanAudited(request, Steps());
  EXPECT_THAT(gait, test::IsOk());
  return gait.ok() ? *gait : v1::Gait();
}

class PlannedTransitionTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    gaits_ = new TransitionGaits{GaitAt(12.0), GaitAt(28.0)};
    ASSERT_EQ(gaits_->from.audit().verdict(), v1::VERDICT_GOOD);
    ASSERT_EQ(gaits_->to.audit().verdict(), v1::VERDICT_GOOD);
  }
  static void TearDownTestSuite() { delete gaits_; }

  static PlanRequest RequestFor(const TransitionGaits& gaits) {
    PlanRequest request = Request();
    request.order.set_robot("weevil-lumped");
    request.order.set_surface("liner-felt");
    v1::Transition& transition = *request.order.mutable_task()->mutable_transition();
    transition.set_from_gait(gaits.from.name());
    transition.set_to_gait(gaits.to.name());
    transition.set_cycle_count(3);
    request.joined = gaits;
    return request;
  }

  static TransitionGaits* gaits_;
};
TransitionGaits* PlannedTransitionTest::gaits_ = nullptr;

TEST_F(PlannedTransitionTest, LeadsFromTwelveToTwentyEightHertz) {
  const auto gait = PlanAudited(RequestFor(*gaits_), Steps());
  ASSERT_THAT(gait, test::IsOk());
  const v1::TransitionReport& report = gait->audit().replay().transition();
  std::printf("before %.2f mm, on the way %.2f of %.2f mm, after %.2f mm, %.3f of the gait alone\n",
              1e3 * report.before_advance_m(),
              1e3 * report.advance_m(),
              1e3 * gait->advance_m(),
              1e3 * report.after_advance_m(),
              report.after_ratio());
  EXPECT_EQ(gait->audit().verdict(), v1::VERDICT_GOOD)
      << gait->report().reason() << gait->audit().ShortDebugString();
  EXPECT_FALSE(gait->is_periodic());
  EXPECT_EQ(gait->knot_count(), PlaceTransition(gait->task().transition(), *gaits_).knot_count);
  EXPECT_LT(gait->audit().residuals().worst_ratio(), 1e-6);
  EXPECT_NEAR(report.after_ratio(), 1.0, 0.1);
  EXPECT_NEAR(report.advance_m(), gait->advance_m(), 0.1 * gait->advance_m());
  // Three cycles of 9 mm.
  EXPECT_NEAR(gait->advance_m(), 0.027, 0.001);
}

TEST_F(PlannedTransitionTest, BeginsAndEndsAsItsGaitsDo) {
  const auto gait = PlanGait(RequestFor(*gaits_), {});
  ASSERT_THAT(gait, test::IsOk());
  const v1::Gait& to = gaits_->to;
  const int last = gait->knot_count() - 1;
  for (int d = 0; d < 8; ++d) {
    EXPECT_NEAR(gait->leg_position_m(d), gaits_->from.leg_position_m(d), 1e-12) << d;
    EXPECT_NEAR(gait->leg_position_m(8 * last + d), to.leg_position_m(d), 1e-12) << d;
    const int before_last = 8 * (last - 1) + d;
    EXPECT_NEAR(
        gait->leg_position_m(before_last), to.leg_position_m(8 * (to.knot_count() - 1) + d), 1e-12)
        << d;
  }
  EXPECT_NEAR(gait->body_position_m(3 * last + 2), to.body_position_m(2), 1e-12);
}

// Without the way between, a gait that is cut off for another is found out.
TEST_F(PlannedTransitionTest, AuditFindsAWayThatBreaksTheLaws) {
  const PlanRequest request = RequestFor(*gaits_);
  auto gait = PlanGait(request, {});
  ASSERT_THAT(gait, test::IsOk());
  for (int k = 40; k < 80; ++k) {
    gait->set_body_position_m(3 * k + 2, gait->body_position_m(3 * k + 2) + 1e-4);
  }
  const auto audit = AuditGait({.robot = request.robot,
                                .surface = request.surface,
                                .gait = *gait,
                                .joined = request.joined});
  ASSERT_THAT(audit, test::IsOk());
  EXPECT_EQ(audit->verdict(), v1::VERDICT_FAILED);
  EXPECT_THAT(audit->reasons(), testing::Contains(testing::StartsWith("The plan breaks a law")));
}

}  // namespace
}  // namespace gaitshelf::solver
