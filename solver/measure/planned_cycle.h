// What a gait's plan says at every phase of the cycle, in SI units.
#ifndef GAITSHELF_SOLVER_MEASURE_PLANNED_CYCLE_H_
#define GAITSHELF_SOLVER_MEASURE_PLANNED_CYCLE_H_

#include <Eigen/Core>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/leg/robot_model.h"
#include "solver/replay/gait_track.h"

namespace gaitshelf::solver {

struct PlannedCycleRequest {
  v1::Robot robot;  // has passed its check
  v1::Surface surface;
  v1::Gait gait;
  // What the robot's legs were compiled to; compiled anew when absent.
  const v1::LegTables* leg_tables = nullptr;
};

class PlannedCycle {
 public:
  // Errors:
  //   kInvalidArgument     the gait's arrays do not fit the robot
  //   kFailedPrecondition  a leg cannot be compiled
  static absl::StatusOr<PlannedCycle> Create(const PlannedCycleRequest& request);

  const RobotModel& model() const { return model_; }
  bool is_periodic() const { return track_.is_periodic(); }
  // Length of a cycle of a periodic gait as planned; what is played may be slower.
  double period_s() const { return track_.duration(); }
  double advance_m() const { return track_.advance(); }
  // Normal force above which a foot is in contact, N.
  double loaded_n() const;

  // Coordinates of the model at a phase in cycles, moved on by the advance for each whole cycle:
  // linear between knots for the body, as the controller's targets for the legs.
  Eigen::VectorXd Position(double phase_ratio) const;
  // One leg coordinate, m, lift before swing; quick.
  double LegPosition(Eigen::Index coordinate, double phase_ratio) const;
  bool IsLoaded(double phase_ratio, Eigen::Index foot) const;
  // Share of the cycle that a foot is in contact.
  double DutyRatio(Eigen::Index foot) const;
  // Phase of the touchdown that follows the foot's longest time in the air; NaN for a foot that is
  // never in contact or always.
  double TouchdownPhase(Eigen::Index foot) const;

 private:
  PlannedCycle(RobotModel model, GaitTrack track);

  RobotModel model_;
  GaitTrack track_;
  Eigen::MatrixXd leg_table_m_;  // 2L x phases, the first one again at the end
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_PLANNED_CYCLE_H_
