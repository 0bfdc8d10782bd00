#include "solver/plan/checkpoint.h"

#include <algorithm>
#include <cmath>

namespace gaitshelf::solver {
namespace {

constexpr int kLayout = 1;

void Append(const Eigen::MatrixXd& matrix, google::protobuf::RepeatedField<double>* out) {
  out->Add(matrix.data(), matrix.data() + matrix.size());
}

// Copies the next values into the matrix and moves on.
void Take(Eigen::MatrixXd* matrix, const double** next) {
  std::copy_n(*next, matrix->size(), matrix->data());
  *next += matrix->size();
}

bool IsFinite(const google::protobuf::RepeatedField<double>& values) {
  return std::all_of(values.begin(), values.end(), [](double x) { return std::isfinite(x); });
}

}  // namespace

v1::PlanCheckpoint MakeCheckpoint(const PlanProblem& problem,
                                  const PlanUnknowns& unknowns,
                                  const PenaltyState& penalty,
                                  const RoundState& state) {
  v1::PlanCheckpoint checkpoint;
  checkpoint.set_layout(kLayout);
  checkpoint.set_round(state.round);
  checkpoint.set_iteration_count(state.iteration_count);
  checkpoint.set_knot_count(problem.knot_count);
  checkpoint.set_smoothing_ratio(penalty.smoothing);
  checkpoint.set_penalty_ratio(penalty.penalty);
  checkpoint.set_radius_ratio(state.radius);
  checkpoint.set_violation_ratio(state.previous_violation);
  Append(unknowns.coordinates, checkpoint.mutable_unknown_ratio());
  Append(unknowns.controls, checkpoint.mutable_unknown_ratio());
  checkpoint.add_unknown_ratio(unknowns.stride);
  for (const Eigen::MatrixXd* multiplier : {&penalty.dynamics_multiplier,
                                            &penalty.contact_multiplier,
                                            &penalty.drive_multiplier,
                                            &penalty.travel_multiplier}) {
    Append(*multiplier, checkpoint.mutable_multiplier_ratio());
  }
  return checkpoint;
}

bool RestoreCheckpoint(const v1::PlanCheckpoint& checkpoint,
                       const PlanProblem& problem,
                       PlanUnknowns* unknowns,
                       PenaltyState* penalty,
                       RoundState* state) {
  penalty->Reset(problem);
  const Eigen::Index unknown_count = unknowns->coordinates.size() + unknowns->controls.size() + 1;
  const Eigen::Index multiplier_count =
      penalty->dynamics_multiplier.size() + penalty->contact_multiplier.size() +
      penalty->drive_multiplier.size() + penalty->travel_multiplier.size();
  if (checkpoint.layout() != kLayout || checkpoint.knot_count() != problem.knot_count ||
      checkpoint.unknown_ratio_size() != unknown_count ||
      checkpoint.multiplier_ratio_size() != multiplier_count ||
      !IsFinite(checkpoint.unknown_ratio()) || !IsFinite(checkpoint.multiplier_ratio())) {
    return false;
  }
  const double* next = checkpoint.unknown_ratio().data();
  Take(&unknowns->coordinates, &next);
  Take(&unknowns->controls, &next);
  unknowns->stride = *next;
  next = checkpoint.multiplier_ratio().data();
  for (Eigen::MatrixXd* multiplier : {&penalty->dynamics_multiplier,
                                      &penalty->contact_multiplier,
                                      &penalty->drive_multiplier,
                                      &penalty->travel_multiplier}) {
    Take(multiplier, &next);
  }
  penalty->smoothing = checkpoint.smoothing_ratio();
  penalty->penalty = checkpoint.penalty_ratio();
  state->round = checkpoint.round();
  state->iteration_count = checkpoint.iteration_count();
  state->radius = checkpoint.radius_ratio();
  state->previous_violation = checkpoint.violation_ratio();
  return true;
}

}  // namespace gaitshelf::solver
