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

v1::Surface SurfaceNamed(const std::string& name, double friction_coefficient) {
  v1::Surface surface = test::SampleSurface();
  surface.set_name(name);
  surface.set_friction_coefficient(friction_coefficient);
  surface.set_friction_uncertainty_coefficient(0.01);
  return surface;
}

TEST(OrderCheckTest, TakesEightFurtherSurfacesEachOnce) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  for (int i = 0; i < 8; ++i) {
    order.add_also_on("felt-" + std::to_string(i));
  }
  EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk());
  order.set_also_on(5, "felt-1");
  EXPECT_THAT(TextOf(CheckOrder(order)),
              HasSubstr("also_on[5] is \"felt-1\"; is a surface that the order names already; "
                        "take it out"));
  order.set_also_on(5, order.surface());
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("also_on[5] is \"duct-steel\"; "));
  order.set_also_on(5, "Felt 5");
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("also_on[5] is \"Felt 5\"; must be 1 to 63"));
  order.set_also_on(5, "felt-5");
  order.add_also_on("felt-8");
  EXPECT_THAT(TextOf(CheckOrder(order)),
              HasSubstr("also_on is 9 entries; must have at most 8 entries; "));
}

TEST(OrderOnSurfacesTest, WantsOneSlopeOfAllOfThem) {
  const v1::Surface steel = SurfaceNamed("steel", 0.2);
  v1::Surface felt = SurfaceNamed("felt", 0.5);
  const v1::Surface tape = SurfaceNamed("tape", 0.8);
  const v1::GaitOrder order = test::SampleAdvanceOrder();
  EXPECT_THAT(ToStatus(CheckOrderOn(order, steel, {tape, felt})), IsOk());
  felt.set_slope_rad(0.25);
  EXPECT_THAT(TextOf(CheckOrderOn(order, steel, {tape, felt})),
              HasSubstr("also_on[1] is \"felt\" of slope 0.25; must have the slope_rad of surface "
                        "\"steel\", which is "));
}

TEST(OrderOnSurfacesTest, RejectsOneDescriptionUnderTwoNames) {
  const v1::Surface steel = SurfaceNamed("steel", 0.2);
  EXPECT_THAT(TextOf(CheckOrderOn(test::SampleAdvanceOrder(), steel, {SurfaceNamed("duct", 0.2)})),
              HasSubstr("also_on[0] is \"duct\"; is described as \"steel\" is; take it out"));
}

v1::GaitOrder TransitionOrder() {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  order.clear_stride_frequency_hz();
  order.clear_options();
  v1::Transition& transition = *order.mutable_task()->mutable_transition();
  transition.set_from_gait("g-1");
  transition.set_from_phase_ratio(0.25);
  transition.set_to_gait("g-2");
  transition.set_cycle_count(2);
  return order;
}

TEST(OrderCheckTest, LeavesSurfacesAndKnotsOfATransitionToItsGaits) {
  v1::GaitOrder order = TransitionOrder();
  EXPECT_THAT(ToStatus(CheckOrder(order)), IsOk());
  order.add_also_on("felt");
  order.mutable_options()->set_knot_count(80);
  order.set_stride_frequency_hz(12.0);
  const std::string text = TextOf(CheckOrder(order));
  EXPECT_THAT(text, HasSubstr("also_on is 1 surfaces; does not go with a transition"));
  EXPECT_THAT(text, HasSubstr("options.knot_count is 80; does not go with a transition"));
  EXPECT_THAT(text, HasSubstr("stride_frequency_hz is 12; must be left out for a transition"));
}

TEST(OrderCheckTest, RejectsFieldsOfATransition) {
  v1::GaitOrder order = TransitionOrder();
  v1::Transition& transition = *order.mutable_task()->mutable_transition();
  transition.clear_from_gait();
  transition.set_to_phase_ratio(1.5);
  transition.set_cycle_count(0);
  const std::string text = TextOf(CheckOrder(order));
  EXPECT_THAT(text, HasSubstr("task.transition.from_gait is missing; "));
  EXPECT_THAT(text, HasSubstr("task.transition.to_phase_ratio is 1.5; "));
  EXPECT_THAT(text,
              HasSubstr("task.transition.cycle_count is missing; is required and must be at "
                        "least 1 and at most 8"));
  transition.set_cycle_count(9);
  EXPECT_THAT(TextOf(CheckOrder(order)), HasSubstr("task.transition.cycle_count is 9; "));
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
