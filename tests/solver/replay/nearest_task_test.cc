#include "solver/replay/nearest_task.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

// A robot that can do up to `reach_m` a cycle: plans and audits of less are good.
class Robot {
 public:
  explicit Robot(double reach_m) : reach_m_(reach_m) {}

  AuditedPlanSteps Steps() {
    return {.plan = [this](const PlanRequest& request, int variant) -> absl::StatusOr<v1::Gait> {
              EXPECT_EQ(variant, kNearestVariant);
              EXPECT_EQ(request.most_attempts, 1);
              EXPECT_FALSE(request.checkpoint.has_value());
              if (is_stopped) {
                return absl::CancelledError("stopped");
              }
              v1::Gait gait;
              gait.set_advance_m(request.order.task().advance().advance_m());
              asked_mm.push_back(1e3 * gait.advance_m());
              gait.mutable_report()->set_outcome(gait.advance_m() > 2.0 * reach_m_
                                                     ? v1::PLAN_OUTCOME_INFEASIBLE
                                                     : v1::PLAN_OUTCOME_CONVERGED);
              return gait;
            },
            .audit = [this](const AuditRequest& request) -> absl::StatusOr<v1::Audit> {
              v1::Audit audit;
              audit.set_verdict(request.gait.advance_m() <= reach_m_ ? v1::VERDICT_GOOD
                                                                     : v1::VERDICT_FAILED);
              return audit;
            }};
  }

  std::vector<double> asked_mm;
  bool is_stopped = false;

 private:
  double reach_m_;
};

PlanRequest MakeRequest(double advance_m) {
  PlanRequest request;
  request.order.set_robot("weevil");
  request.order.set_surface("duct-steel");
  request.order.set_stride_frequency_hz(12.0);
  request.order.mutable_task()->mutable_advance()->set_advance_m(advance_m);
  request.checkpoint.emplace();
  return request;
}

TEST(FindNearestTaskTest, HalvesUntilTheReachIsKnownToASixteenth) {
  Robot robot(0.0101);
  v1::Gait gait;
  gait.mutable_report()->set_reason("too far");
  ASSERT_THAT(FindNearestTask(MakeRequest(0.016), robot.Steps(), &gait), test::IsOk());
  EXPECT_THAT(robot.asked_mm,
              ElementsAre(testing::DoubleNear(8.0, 1e-9),
                          testing::DoubleNear(12.0, 1e-9),
                          testing::DoubleNear(10.0, 1e-9),
                          testing::DoubleNear(11.0, 1e-9)));
  EXPECT_NEAR(gait.report().nearest_task().advance().advance_m(), 0.010, 1e-12);
  EXPECT_THAT(gait.report().reason(),
              HasSubstr("too far; the nearest that plans and replays is an advance of 10.00 mm"));
  EXPECT_FALSE(gait.name().empty());
}

TEST(FindNearestTaskTest, SaysNothingWhereNothingIsMet) {
  Robot robot(0.0);
  v1::Gait gait;
  gait.set_name("as it was");
  ASSERT_THAT(FindNearestTask(MakeRequest(0.016), robot.Steps(), &gait), test::IsOk());
  EXPECT_FALSE(gait.report().has_nearest_task());
  EXPECT_EQ(gait.name(), "as it was");
}

TEST(FindNearestTaskTest, LeavesAGoodGaitAndAMaximalAdvanceAlone) {
  Robot robot(1.0);
  v1::Gait good;
  good.mutable_audit()->set_verdict(v1::VERDICT_GOOD);
  EXPECT_THAT(FindNearestTask(MakeRequest(0.016), robot.Steps(), &good), test::IsOk());
  PlanRequest maximal = MakeRequest(0.0);
  maximal.order.mutable_task()->mutable_advance()->set_is_maximal(true);
  v1::Gait gait;
  EXPECT_THAT(FindNearestTask(maximal, robot.Steps(), &gait), test::IsOk());
  EXPECT_TRUE(robot.asked_mm.empty());
}

TEST(FindNearestTaskTest, IsStopped) {
  Robot robot(0.01);
  robot.is_stopped = true;
  v1::Gait gait;
  EXPECT_THAT(FindNearestTask(MakeRequest(0.016), robot.Steps(), &gait),
              test::HasStatus(absl::StatusCode::kCancelled, testing::_));
}

TEST(ScaleTaskTest, ScalesWhatATaskAsksFor) {
  v1::Task task;
  task.mutable_advance()->set_advance_m(0.009);
  task.mutable_advance()->set_turn_rad(0.2);
  EXPECT_NEAR(ScaleTask(task, 0.5).advance().advance_m(), 0.0045, 1e-12);
  EXPECT_NEAR(ScaleTask(task, 0.5).advance().turn_rad(), 0.1, 1e-12);
  EXPECT_EQ(DescribeTask(task), "an advance of 9.00 mm and a turn of 11.5 deg per cycle");
  task.mutable_hop()->set_rise_m(0.009);
  task.mutable_hop()->set_advance_m(0.004);
  EXPECT_NEAR(ScaleTask(task, 0.25).hop().rise_m(), 0.00225, 1e-12);
  EXPECT_NEAR(ScaleTask(task, 0.25).hop().advance_m(), 0.001, 1e-12);
  EXPECT_EQ(DescribeTask(task), "a hop of 9.00 mm over 4.00 mm");
  task.mutable_stand()->set_height_m(-0.002);
  task.mutable_stand()->set_roll_rad(0.1);
  EXPECT_NEAR(ScaleTask(task, 0.5).stand().height_m(), -0.001, 1e-12);
  EXPECT_NEAR(ScaleTask(task, 0.5).stand().roll_rad(), 0.05, 1e-12);
  EXPECT_THAT(DescribeTask(task), HasSubstr("rolled by 5.7"));
}

}  // namespace
}  // namespace gaitshelf::solver
