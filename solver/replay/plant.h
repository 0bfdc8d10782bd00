// What is replayed under the leg controller: a robot in one of its models, as a thing that stands
// somewhere and can be stepped.
#ifndef GAITSHELF_SOLVER_REPLAY_PLANT_H_
#define GAITSHELF_SOLVER_REPLAY_PLANT_H_

#include <Eigen/Core>

#include "gaitshelf/v1/audit.pb.h"

#include "absl/status/status.h"
#include "solver/leg/robot_model.h"
#include "solver/replay/gait_track.h"
#include "solver/replay/step_report.h"

namespace gaitshelf::solver {

class ReplayPlant {
 public:
  virtual ~ReplayPlant() = default;

  // A model of the robot whose coordinates, units, drives, travels and feet the plant has too. Its
  // dynamics may be others.
  virtual const RobotModel& outline() const = 0;

  // Goes to the planned state at knot 0, to be stepped by `step`.
  //
  // Errors:
  //   kOutOfRange   the robot cannot take the planned posture
  virtual absl::Status StartOnPlan(const GaitTrack& track, double step) = 0;

  // Steps on by the time h with the drives at u held.
  //
  // Errors:
  //   kInternal   no convergence; the plant is then somewhere inside the step
  virtual absl::Status Step(const Eigen::VectorXd& u, double h, StepReport* report) = 0;

  // Coordinates of the outline, and their rates in the last step.
  virtual Eigen::VectorXd Position() const = 0;
  virtual Eigen::VectorXd Velocity() const = 0;
  virtual double Energy() const = 0;

  // Forgets what was recorded so far for FillReport.
  virtual void StartMeasuring() {}
  // Adds what only this kind of plant can tell.
  virtual void FillReport(v1::ReplayReport* /*report*/) const {}
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_PLANT_H_
