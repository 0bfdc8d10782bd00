// Periodic gaits made of a seed: no plans, but trajectories of the right form.
#ifndef GAITSHELF_TESTS_SUPPORT_CYCLES_H_
#define GAITSHELF_TESTS_SUPPORT_CYCLES_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"

#include "solver/plan/result.h"
#include "solver/plan/stage.h"
#include "tests/support/plans.h"

namespace gaitshelf::test {

inline v1::Gait MakeSeedGait(const solver::RobotModel& model,
                             const v1::GaitOrder& order,
                             int knot_count) {
  const solver::Stage stage = solver::MakeStage(model, order, {}, knot_count, false);
  v1::Gait gait;
  gait.set_name("g-seed");
  gait.set_stride_frequency_hz(order.stride_frequency_hz());
  *gait.mutable_task() = order.task();
  solver::FillTrajectory(stage.problem, stage.unknowns, MakeQuadruped(), &gait);
  return gait;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_CYCLES_H_
