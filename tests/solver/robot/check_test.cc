// Rules of surfaces and orders that take two fields, or the robot.
#include "solver/robot/check.h"

#include <string>

#include "tests/solver/robot/samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::IsOk;
using testing::HasSubstr;

std::string TextOf(const Violations& violations) {
  return std::string(ToStatus(violations).message());
}

TEST(SurfaceCheckTest, AcceptsAFrictionlessSurfaceWhenItIsWritten) {
  v1::Surface surface = test::SampleSurface();
  surface.set_friction_coefficient(0.0);
  surface.set_friction_uncertainty_coefficient(0.0);
  EXPECT_THAT(ToStatus(CheckSurface(surface)), IsOk());
}

TEST(SurfaceCheckTest, RejectsAnUncertaintyAboveTheCoefficient) {
  v1::Surface surface = test::SampleSurface();
  surface.set_friction_uncertainty_coefficient(0.5);
  EXPECT_THAT(TextOf(CheckSurface(surface)),
              HasSubstr("friction_uncertainty_coefficient is 0.5; must be at most "
                        "friction_coefficient, which is 0.45; "));
}

TEST(SurfaceCheckTest, TellsPercentAndDegreesFromPlainNumbersAndRadians) {
  v1::Surface surface = test::SampleSurface();
  surface.set_friction_coefficient(45.0);
  surface.set_slope_rad(5.7);
  const std::string text = TextOf(CheckSurface(surface));
  EXPECT_THAT(text, HasSubstr("friction_coefficient is 45; "));
  EXPECT_THAT(text, HasSubstr("18 % is 0.18"));
  EXPECT_THAT(text, HasSubstr("slope_rad is 5.7; "));
  EXPECT_THAT(text, HasSubstr("5 degrees are 0.0873"));
}

TEST(SurfaceCheckTest, RejectsADayThatIsNotInTheCalendar) {
  v1::Surface surface = test::SampleSurface();
  for (const char* day : {"2026-02-29", "2026-13-01", "28.02.2026", "2026-2-8", "yesterday"}) {
    surface.set_measured_on(day);
    EXPECT_THAT(TextOf(CheckSurface(surface)), HasSubstr("measured_on is \"")) << day;
  }
  surface.set_measured_on("2024-02-29");
  EXPECT_THAT(ToStatus(CheckSurface(surface)), IsOk());
}

TEST(OrderCheckTest, RejectsAFrequencyThatTheKeyCannotHold) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  order.set_stride_frequency_hz(12.0004);
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("stride_frequency_hz is 12.0004; "));
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("give 12"));
  for (const double frequency_hz : {0.1, 0.123, 33.333, 200.0}) {
    order.set_stride_frequency_hz(frequency_hz);
    EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk()) << frequency_hz;
  }
}

TEST(OrderCheckTest, RejectsAFrequencyForAHop) {
  v1::GaitOrder order = test::SampleHopOrder();
  order.set_stride_frequency_hz(3.0);
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("stride_frequency_hz is 3; must be left out"));
}

TEST(OrderCheckTest, TellsMillimetresAndCyclesPerMinute) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  order.set_stride_frequency_hz(720.0);
  order.mutable_task()->mutable_advance()->set_advance_m(9.0);
  const std::string text = TextOf(CheckOrder(order));
  EXPECT_THAT(text, HasSubstr("stride_frequency_hz is 720; "));
  EXPECT_THAT(text, HasSubstr("720 cycles per minute are 12"));
  EXPECT_THAT(text, HasSubstr("task.advance.advance_m is 9; "));
  EXPECT_THAT(text, HasSubstr("38 mm is 0.038"));
}

TEST(OrderCheckTest, ChecksTheOptions) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  order.mutable_options()->set_rng(-1);
  order.mutable_options()->set_knot_count(8);
  const std::string text = TextOf(CheckOrder(order));
  EXPECT_THAT(text, HasSubstr("options.rng is -1; "));
  EXPECT_THAT(text, HasSubstr("options.knot_count is 8; must be at least 16 and at most 400, or"));
  order.mutable_options()->set_rng(2147483647);
  order.mutable_options()->set_knot_count(0);
  EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk());
}

TEST(OrderForRobotTest, AcceptsWhatTheRobotCanDo) {
  EXPECT_THAT(ToStatus(CheckOrderFor(test::SampleAdvanceOrder(), test::SampleRobot())), IsOk());
  EXPECT_THAT(ToStatus(CheckOrderFor(test::SampleHopOrder(), test::SampleRobot())), IsOk());
}

TEST(OrderForRobotTest, RejectsTasksOfAClampedBody) {
  v1::Robot robot = test::SampleRobot();
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  EXPECT_THAT(TextOf(CheckOrderFor(test::SampleHopOrder(), robot)),
              HasSubstr("task.hop is hop by robot \"sample\"; needs a free body"));
  EXPECT_THAT(TextOf(CheckOrderFor(test::SampleAdvanceOrder(), robot)),
              HasSubstr("task.advance is advance by robot \"sample\"; needs a free body"));
}

TEST(OrderForRobotTest, RejectsTasksThatNothingDrives) {
  const v1::Robot point = test::PointMass();
  EXPECT_THAT(TextOf(CheckOrderFor(test::SampleHopOrder(), point)),
              HasSubstr("bimorph on its lift"));
  EXPECT_THAT(TextOf(CheckOrderFor(test::SampleAdvanceOrder(), point)), HasSubstr("driven leg"));
  v1::Robot robot = test::SampleRobot();
  for (v1::Leg& leg : *robot.mutable_legs()) {
    leg.mutable_lumped()->mutable_lift()->clear_bimorph();
  }
  EXPECT_THAT(ToStatus(CheckOrderFor(test::SampleAdvanceOrder(), robot)), IsOk());
  v1::GaitOrder stand = test::SampleHopOrder();
  stand.mutable_task()->mutable_stand();
  EXPECT_THAT(TextOf(CheckOrderFor(stand, robot)), HasSubstr("task.stand is stand by robot"));
  EXPECT_THAT(ToStatus(CheckOrderFor(test::SampleHopOrder(), robot)), testing::Not(IsOk()));
}

TEST(ToStatusTest, GivesOneLineForEachFault) {
  Violations violations;
  AddFault({"a", "1", "too small", "give 2"}, &violations);
  AddFault({"b", "missing", "is required", "add b"}, &violations);
  EXPECT_THAT(ToStatus(violations),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              testing::StrEq("a is 1; too small; give 2\n"
                                             "b is missing; is required; add b")));
  EXPECT_THAT(ToStatus({}), IsOk());
}

TEST(OrderCheckTest, WantsAnAdvanceToGoSomewhere) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  v1::Advance& advance = *order.mutable_task()->mutable_advance();
  advance.clear_advance_m();
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("task.advance.advance_m is missing; "));
  advance.set_turn_rad(0.1);
  EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk());
  advance.clear_turn_rad();
  advance.set_sidestep_m(0.001);
  EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk());
  advance.set_is_maximal(true);
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("task.advance.is_maximal is true; does not go"));
  advance.clear_sidestep_m();
  EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk());
}

TEST(OrderCheckTest, RejectsAFrequencyForAStand) {
  v1::GaitOrder order = test::SampleHopOrder();
  order.mutable_task()->mutable_stand();
  EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk());
  order.set_stride_frequency_hz(3.0);
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("must be left out for a stand"));
}

TEST(OrderOnSurfaceTest, RejectsATurnOnASlope) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  v1::Surface surface = test::SampleSurface();
  surface.set_slope_rad(0.1);
  EXPECT_THAT(ToStatus(CheckOrderOn(order, surface)), IsOk());
  order.mutable_task()->mutable_advance()->set_turn_rad(0.1);
  EXPECT_THAT(TextOf(CheckOrderOn(order, surface)), HasSubstr("order the turn on a level surface"));
  surface.clear_slope_rad();
  EXPECT_THAT(ToStatus(CheckOrderOn(order, surface)), IsOk());
}

}  // namespace
}  // namespace gaitshelf::solver
