#include "tests/bench/planner_case.h"

#include "absl/strings/str_cat.h"
#include "solver/replay/replay_model.h"
#include "tests/support/demo.h"

namespace gaitshelf::bench {

v1::Robot ReadCaseRobot(const std::string& name) { return test::ReadDemoRobot(name); }

solver::RobotModel MakeCaseModel(const v1::Robot& robot, const std::string& surface) {
  return solver::CreateReplayModel(robot, test::ReadDemoSurface(surface)).value();
}

v1::Robot MakeRobotOfLegs(int leg_count) {
  v1::Robot robot = test::ReadDemoRobot("earwig");
  const int own_count = robot.legs_size();
  const double ratio = static_cast<double>(leg_count) / own_count;
  const double front_m = ratio * robot.legs(0).lumped().foot_m(0);
  const int pairs = leg_count / 2;
  const v1::Leg left = robot.legs(0);
  const v1::Leg right = robot.legs(1);
  robot.clear_legs();
  for (int pair = 0; pair < pairs; ++pair) {
    const double x_m = front_m * (1.0 - 2.0 * pair / (pairs - 1));
    for (const v1::Leg* pattern : {&left, &right}) {
      v1::Leg& leg = *robot.add_legs();
      leg = *pattern;
      leg.set_name(absl::StrCat(pattern == &left ? "left-" : "right-", pair + 1));
      leg.mutable_lumped()->set_foot_m(0, x_m);
    }
  }
  v1::Body& body = *robot.mutable_body();
  body.set_mass_kg(ratio * body.mass_kg());
  // Roll inertia grows with the mass, pitch and yaw inertia also with the square of the length.
  body.set_inertia_kg_m2(0, ratio * body.inertia_kg_m2(0));
  for (const int axis : {1, 2}) {
    body.set_inertia_kg_m2(axis, ratio * ratio * ratio * body.inertia_kg_m2(axis));
  }
  body.set_size_m(0, ratio * body.size_m(0));
  return robot;
}

v1::GaitOrder MakeCaseOrder(double frequency_hz) {
  v1::GaitOrder order;
  order.set_stride_frequency_hz(frequency_hz);
  order.mutable_task()->mutable_advance()->set_advance_m(0.009);
  return order;
}

solver::Stage MakeCaseStage(const solver::RobotModel& model, double frequency_hz, int knot_count) {
  return solver::MakeStage(model, MakeCaseOrder(frequency_hz), {}, knot_count, false);
}

solver::PenaltyState FirstPenalty(const solver::Stage& stage) {
  solver::PenaltyState penalty;
  penalty.Reset(stage.problem);
  penalty.smoothing = stage.schedule.first_smoothing;
  penalty.penalty = stage.schedule.first_penalty;
  return penalty;
}

}  // namespace gaitshelf::bench
