// The whole mechanism, every link and flexure, as a thing to be replayed.
#ifndef GAITSHELF_SOLVER_REPLAY_WHOLE_PLANT_H_
#define GAITSHELF_SOLVER_REPLAY_WHOLE_PLANT_H_

#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/replay/mechanism_loads.h"
#include "solver/replay/plant.h"
#include "solver/replay/whole_robot.h"
#include "solver/replay/whole_step.h"

namespace gaitshelf::solver {

class WholePlant final : public ReplayPlant {
 public:
  // Both must outlive the plant; the outline is a model of the same robot.
  WholePlant(const WholeRobot* robot, const RobotModel* outline)
      : robot_(*robot),
        outline_(*outline),
        loads_(robot, outline->scale()),
        stepper_(robot, &loads_) {}

  const RobotModel& outline() const override { return outline_; }
  absl::Status StartOnPlan(const GaitTrack& track, double step) override;
  absl::Status Step(const Eigen::VectorXd& u, double h, StepReport* report) override {
    return stepper_.Step(u, h, &state_, report);
  }
  Eigen::VectorXd Position() const override { return robot_.Outline(state_.position); }
  Eigen::VectorXd Velocity() const override { return robot_.Outline(state_.velocity); }
  double Energy() const override { return robot_.Energy(state_.position, state_.velocity); }
  void StartMeasuring() override { loads_.Reset(); }
  void FillReport(v1::ReplayReport* report) const override {
    *report->mutable_mechanism() = loads_.Report();
  }

 private:
  const WholeRobot& robot_;
  const RobotModel& outline_;
  MechanismLoads loads_;
  WholeStepper stepper_;
  WholeState state_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_WHOLE_PLANT_H_
