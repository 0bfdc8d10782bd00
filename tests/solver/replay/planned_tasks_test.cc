// Every kind of task, planned and audited on the demonstration's robot.
#include <cmath>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/plan/plan_gait.h"
#include "solver/replay/audited_plan.h"
#include "tests/support/demo.h"
#include "tests/support/plans.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

v1::Gait PlanTask(const v1::GaitOrder& order,
                  const std::string& robot = "weevil-lumped",
                  double friction = 0.45) {
  PlanRequest request;
  request.robot = test::ReadDemoRobot(robot);
  request.surface = test::MakeSurface(friction);
  request.order = order;
  const auto plan = [](const PlanRequest& variant_request, int /*variant*/) {
    return PlanGait(variant_request, {});
  };
  const auto gait = PlanAudited(request, {.plan = plan, .audit = AuditGait});
  EXPECT_THAT(gait, test::IsOk());
  return gait.ok() ? *gait : v1::Gait();
}

void ExpectGood(const v1::Gait& gait) {
  EXPECT_EQ(gait.audit().verdict(), v1::VERDICT_GOOD)
      << gait.report().reason() << " " << gait.audit().ShortDebugString();
}

TEST(PlannedTasksTest, TurnsAlongAnArc) {
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.006);
  order.mutable_task()->mutable_advance()->set_turn_rad(0.0873);
  const v1::Gait gait = PlanTask(order);
  ExpectGood(gait);
  EXPECT_NEAR(gait.turn_rad(), 0.0873, 1e-12);
  EXPECT_NEAR(gait.audit().replay().turn_rad(), 0.0873, 0.0873 * 0.2);
  EXPECT_NEAR(gait.audit().replay().advance_m(), 0.006, 0.0006);
}

// Four legs that put two feet down at a time tip in a long slow stride and drag the others.
TEST(PlannedTasksTest, ASlowLongStrideDoesNotDragItsFeet) {
  const v1::Gait gait = PlanTask(test::MakeAdvanceOrder(1.5, 0.0165));
  ExpectGood(gait);
  EXPECT_EQ(gait.report().seed_pattern(), v1::SEED_PATTERN_WALK);
  std::printf("variant %d\n", gait.report().variant());
}

TEST(PlannedTasksTest, StandsAndHoldsItsHeight) {
  const v1::Gait gait = PlanTask(test::MakeStandOrder(-0.0005));
  ExpectGood(gait);
  EXPECT_EQ(gait.stride_frequency_hz(), 0.0);
  EXPECT_NEAR(gait.audit().replay().plan_ratio(), 1.0, 0.02);
}

// Little friction lets a plan drift, and a stand is kept without the drift.
TEST(PlannedTasksTest, StandsLeaningOnASlipperySurface) {
  for (const char* robot : {"weevil", "earwig"}) {
    for (const double height_m : {-0.0006, 0.0006, 0.0012}) {
      v1::GaitOrder order = test::MakeStandOrder(height_m);
      order.mutable_task()->mutable_stand()->set_roll_rad(-0.004);
      order.mutable_task()->mutable_stand()->set_pitch_rad(0.012);
      const v1::Gait gait = PlanTask(order, robot, 0.15);
      ExpectGood(gait);
      EXPECT_EQ(gait.advance_m(), 0.0);
      EXPECT_LT(gait.audit().residuals().dynamics_ratio(), 1e-6) << robot << " " << height_m;
    }
  }
}

TEST(PlannedTasksTest, HopsOverADistance) {
  v1::GaitOrder order = test::MakeHopOrder(0.008);
  order.mutable_task()->mutable_hop()->set_advance_m(0.004);
  const v1::Gait gait = PlanTask(order);
  ExpectGood(gait);
  EXPECT_NEAR(gait.advance_m(), 0.004, 1e-9);
  EXPECT_NEAR(gait.audit().replay().advance_m(), 0.004, 0.0012);
}

TEST(PlannedTasksTest, AMaximalAdvanceGoesFurtherThanTheDemonstrationsAndReplays) {
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.0);
  order.mutable_task()->mutable_advance()->set_is_maximal(true);
  const v1::Gait gait = PlanTask(order);
  ExpectGood(gait);
  EXPECT_GT(gait.audit().replay().advance_m(), 0.012);
}

// What each objective is about, of a plan.
struct PlanFigures {
  double effort = 0.0;
  double alternation = 0.0;
  double peak_v = 0.0;
  double jerkiness = 0.0;  // mean square of second differences of the legs
};

PlanFigures FiguresOf(const v1::Gait& gait) {
  const int drives = 2 * gait.leg_names_size();
  const int knots = gait.knot_count();
  PlanFigures figures;
  for (int d = 0; d < drives; ++d) {
    double mean_v = 0.0;
    for (int k = 0; k < knots; ++k) {
      mean_v += gait.voltage_v(k * drives + d) / knots;
    }
    for (int k = 0; k < knots; ++k) {
      const double off_v = gait.voltage_v(k * drives + d) - 100.0;
      figures.effort += off_v * off_v;
      figures.alternation += std::pow(gait.voltage_v(k * drives + d) - mean_v, 2);
      figures.peak_v = std::max(figures.peak_v, std::abs(off_v));
      const auto leg_m = [&](int knot) {
        return gait.leg_position_m((knot + knots) % knots * drives + d);
      };
      figures.jerkiness += std::pow(leg_m(k + 1) - 2.0 * leg_m(k) + leg_m(k - 1), 2);
    }
  }
  return figures;
}

TEST(PlannedTasksTest, EachObjectiveMakesItsOwnFigureSmallerThanLeastEffortDoes) {
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.009);
  const v1::Gait plain_gait = PlanTask(order);
  ExpectGood(plain_gait);
  EXPECT_EQ(plain_gait.objective(), v1::OBJECTIVE_LEAST_EFFORT);
  const PlanFigures plain = FiguresOf(plain_gait);
  const auto figures = [&](v1::Objective objective) {
    order.set_objective(objective);
    const v1::Gait gait = PlanTask(order);
    ExpectGood(gait);
    EXPECT_EQ(gait.objective(), objective);
    return FiguresOf(gait);
  };
  const PlanFigures energy = figures(v1::OBJECTIVE_LEAST_ENERGY);
  const PlanFigures smooth = figures(v1::OBJECTIVE_SMOOTHEST);
  const PlanFigures peak = figures(v1::OBJECTIVE_LEAST_PEAK_VOLTAGE);
  std::printf("alternation %.4g of %.4g, second differences %.4g of %.4g, peak %.1f of %.1f V\n",
              energy.alternation,
              plain.alternation,
              smooth.jerkiness,
              plain.jerkiness,
              peak.peak_v,
              plain.peak_v);
  EXPECT_LT(energy.alternation, 0.98 * plain.alternation);
  EXPECT_LT(smooth.jerkiness, 0.98 * plain.jerkiness);
  EXPECT_LT(peak.peak_v, 0.98 * plain.peak_v);
}

}  // namespace
}  // namespace gaitshelf::solver
