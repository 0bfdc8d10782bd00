#include "solver/robot/transition.h"

#include <string>

#include "solver/robot/check.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::IsOk;
using testing::HasSubstr;

v1::Gait GaitAt(const std::string& name, double stride_frequency_hz, int knot_count) {
  v1::Gait gait;
  gait.set_name(name);
  gait.set_robot_digest("robot-1");
  gait.set_surface_digest("surface-1");
  gait.set_stride_frequency_hz(stride_frequency_hz);
  gait.set_knot_count(knot_count);
  gait.set_knot_period_s(1.0 / stride_frequency_hz / knot_count);
  gait.set_is_periodic(true);
  gait.mutable_task()->mutable_advance()->set_advance_m(0.009);
  gait.mutable_audit()->set_verdict(v1::VERDICT_GOOD);
  return gait;
}

v1::GaitOrder OrderWith(double from_phase, double to_phase, int cycle_count) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  v1::Transition& transition = *order.mutable_task()->mutable_transition();
  transition.set_from_phase_ratio(from_phase);
  transition.set_to_phase_ratio(to_phase);
  transition.set_cycle_count(cycle_count);
  return order;
}

std::string Faults(const v1::GaitOrder& order, const TransitionGaits& gaits) {
  return std::string(ToStatus(CheckTransition(order, "robot-1", "surface-1", gaits)).message());
}

const TransitionGaits& Usual() {
  static const TransitionGaits* const gaits =
      new TransitionGaits{GaitAt("g-a", 12.0, 80), GaitAt("g-b", 28.0, 80)};
  return *gaits;
}

TEST(TransitionTest, LetsThePhasesGoByWithinTheCycles) {
  // From 0.25 to 0.5 in at most 2 cycles: 1.25 go by, at 20 Hz on the mean.
  const TransitionGrid grid = PlaceTransition(OrderWith(0.25, 0.5, 2).task().transition(), Usual());
  EXPECT_EQ(grid.from_knot, 20);
  EXPECT_EQ(grid.to_knot, 40);
  EXPECT_DOUBLE_EQ(grid.cycles, 1.25);
  EXPECT_EQ(grid.knot_count, 1 + 140);  // 62.5 ms at 28 * 80 knots a second
  EXPECT_DOUBLE_EQ(PlaceTransition(OrderWith(0.5, 0.5, 2).task().transition(), Usual()).cycles,
                   2.0);
  EXPECT_DOUBLE_EQ(PlaceTransition(OrderWith(0.5, 0.25, 2).task().transition(), Usual()).cycles,
                   1.75);
}

TEST(TransitionTest, TakesTheNearestKnot) {
  const TransitionGrid grid =
      PlaceTransition(OrderWith(0.256, 1.0, 1).task().transition(), Usual());
  EXPECT_EQ(grid.from_knot, 20);
  EXPECT_EQ(grid.to_knot, 0);
  EXPECT_DOUBLE_EQ(grid.cycles, 0.75);
}

TEST(TransitionTest, AcceptsGaitsOfOneRobotAndSurface) {
  EXPECT_EQ(Faults(OrderWith(0.25, 0.5, 2), Usual()), "");
}

TEST(TransitionTest, RejectsGaitsThatDoNotGoTogether) {
  TransitionGaits gaits = Usual();
  gaits.from.set_robot_digest("robot-2");
  gaits.to.set_surface_digest("surface-2");
  const std::string text = Faults(OrderWith(0.0, 0.0, 2), gaits);
  EXPECT_THAT(text,
              HasSubstr("task.transition.from_gait is \"g-a\"; was solved for another "
                        "version of a robot, robot-2"));
  EXPECT_THAT(text,
              HasSubstr("task.transition.to_gait is \"g-b\"; was solved for another version "
                        "of a surface, surface-2"));
}

TEST(TransitionTest, RejectsWhatIsNoGoodGait) {
  TransitionGaits gaits = Usual();
  gaits.from.set_is_periodic(false);
  gaits.to.mutable_audit()->set_verdict(v1::VERDICT_FAILED);
  const std::string text = Faults(OrderWith(0.0, 0.0, 2), gaits);
  EXPECT_THAT(text, HasSubstr("\"g-a\"; must be a gait that goes on for ever; name a gait that"));
  EXPECT_THAT(text, HasSubstr("\"g-b\"; has not passed its audit; name a gait that is good"));
}

TEST(TransitionTest, RejectsTooShortAndTooLongAWay) {
  EXPECT_THAT(Faults(OrderWith(0.25, 0.5, 1), Usual()),
              HasSubstr("task.transition.cycle_count is 1; leaves 0.25 cycles between the phases"));
  const TransitionGaits slow = {GaitAt("g-a", 3.0, 120), GaitAt("g-b", 28.0, 160)};
  EXPECT_THAT(Faults(OrderWith(0.0, 0.0, 8), slow),
              HasSubstr("task.transition.cycle_count is 8; makes 2313 knots; a transition has at "
                        "most 1000"));
}

TEST(TransitionTest, RejectsASecondGaitWhoseKnotsAreTooFarApartForTheFirst) {
  const TransitionGaits gaits = {GaitAt("g-a", 28.0, 80), GaitAt("g-b", 3.0, 120)};
  EXPECT_THAT(Faults(OrderWith(0.0, 0.0, 2), gaits),
              HasSubstr("task.transition.to_gait is \"g-b\"; has its knots 2.78 ms apart, 13 in a "
                        "cycle of the first gait; 20 are needed; order the second gait on 187 "
                        "knots"));
}

}  // namespace
}  // namespace gaitshelf::solver
