// The robot of the planner's own model, body and two coordinates a leg, as a thing to be replayed.
#ifndef GAITSHELF_SOLVER_REPLAY_MODEL_PLANT_H_
#define GAITSHELF_SOLVER_REPLAY_MODEL_PLANT_H_

#include "solver/replay/contact_step.h"
#include "solver/replay/plant.h"

namespace gaitshelf::solver {

class ModelPlant final : public ReplayPlant {
 public:
  // The model must outlive the plant.
  explicit ModelPlant(const RobotModel* model) : model_(*model), stepper_(model) {}

  const RobotModel& outline() const override { return model_; }
  absl::Status StartOnPlan(const GaitTrack& track, double step) override;
  absl::Status Step(const Eigen::VectorXd& u, double h, StepReport* report) override {
    return stepper_.Step(u, h, &state_, report);
  }
  Eigen::VectorXd Position() const override { return state_.knot.position; }
  Eigen::VectorXd Velocity() const override { return state_.velocity; }
  double Energy() const override { return model_.Energy(state_.knot.position, state_.velocity); }

 private:
  const RobotModel& model_;
  ContactStepper stepper_;
  ReplayState state_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_MODEL_PLANT_H_
