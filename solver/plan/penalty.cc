#include "solver/plan/penalty.h"

namespace gaitshelf::solver {

void PenaltyState::Reset(const PlanProblem& problem) {
  dynamics_multiplier.setZero(problem.coordinate_count(), problem.knot_count);
  contact_multiplier.setZero(4 * problem.foot_count(), problem.knot_count);
  drive_multiplier.setZero(problem.drive_count(), problem.knot_count);
  travel_multiplier.setZero(problem.drive_count(), problem.knot_count);
}

double LimitRow(double value, double lower, double upper, double shift) {
  if (shift >= 0.0) {
    const double above = value - upper + shift;
    if (above > 0.0) {
      return above;
    }
  }
  if (shift <= 0.0) {
    const double below = value - lower + shift;
    if (below < 0.0) {
      return below;
    }
  }
  return 0.0;
}

void PenaltyState::UpdateMultipliers(const PlanEvaluation& evaluation) {
  const PlanProblem& problem = evaluation.problem();
  const RobotModel& model = *problem.model;
  dynamics_multiplier += penalty * evaluation.dynamics();
  contact_multiplier += problem.contact_penalty_ratio * penalty * evaluation.contact();
  const double limit_penalty = problem.limit_penalty_ratio * penalty;
  for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
    for (Eigen::Index d = 0; d < problem.drive_count(); ++d) {
      const Drive& drive = model.drives()[static_cast<size_t>(d)];
      const Travel& travel = model.travels()[static_cast<size_t>(d)];
      if (drive.is_present) {
        drive_multiplier(d, k) = limit_penalty * LimitRow(evaluation.unknowns().controls(d, k),
                                                          drive.lower + problem.drive_margin,
                                                          drive.upper - problem.drive_margin,
                                                          drive_multiplier(d, k) / limit_penalty);
      }
      travel_multiplier(d, k) =
          limit_penalty * LimitRow(evaluation.unknowns().coordinates(model.base_count() + d, k),
                                   travel.lower + problem.travel_margin,
                                   travel.upper - problem.travel_margin,
                                   travel_multiplier(d, k) / limit_penalty);
    }
  }
}

}  // namespace gaitshelf::solver
