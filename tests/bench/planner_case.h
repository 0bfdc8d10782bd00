// Robots, orders and stages that the planner is timed on.
#ifndef GAITSHELF_TESTS_BENCH_PLANNER_CASE_H_
#define GAITSHELF_TESTS_BENCH_PLANNER_CASE_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "solver/leg/robot_model.h"
#include "solver/plan/stage.h"

namespace gaitshelf::bench {

// The demonstration's robot of this name, and a robot on a surface of the demonstration.
v1::Robot ReadCaseRobot(const std::string& name);
solver::RobotModel MakeCaseModel(const v1::Robot& robot, const std::string& surface);

// Earwig's legs and load a leg, on as many legs as asked, in pairs evenly along a body that is as
// much longer.
v1::Robot MakeRobotOfLegs(int leg_count);

// 9 mm a cycle, as demo_sweep asks.
v1::GaitOrder MakeCaseOrder(double frequency_hz);

// The planner's first stage of such an order with this many knots, to be solved to the end.
solver::Stage MakeCaseStage(const solver::RobotModel& model, double frequency_hz, int knot_count);

// Starts a solve of the stage as the planner does.
solver::PenaltyState FirstPenalty(const solver::Stage& stage);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_PLANNER_CASE_H_
