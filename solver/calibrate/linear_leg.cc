#include "solver/calibrate/linear_leg.h"

#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/leg/compile_leg.h"
#include "solver/leg/compiled_leg.h"
#include "solver/leg/lumped_leg.h"
#include "solver/robot/bimorph.h"
#include "solver/robot/leg_form.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Matrix2d;
using F = LegFunction;

absl::StatusOr<LegEvaluation> EvaluateAtRest(const v1::Leg& described) {
  v1::Leg leg = described;
  for (std::size_t axis = 0; axis < 2; ++axis) {
    if (v1::Bimorph* bimorph = MutableBimorph(&leg, axis); bimorph != nullptr) {
      *bimorph = WithoutLayers(*bimorph);
    }
  }
  LegEvaluation evaluation = {};
  const Scale si;
  if (leg.has_lumped()) {
    LumpedLeg(leg.lumped(), si)
        .Evaluate(Eigen::Vector2d::Zero(), DerivativeOrder::kSecond, &evaluation);
  } else {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::LegTable table, CompileLeg(leg.linkage()));
    CompiledLeg(table, si).Evaluate(Eigen::Vector2d::Zero(), DerivativeOrder::kSecond, &evaluation);
  }
  return evaluation;
}

// Of a symmetric matrix kept as 00 11 01.
Matrix2d Symmetric(double first, double second, double mixed) {
  return (Matrix2d() << first, mixed, mixed, second).finished();
}

Matrix2d Curvature(const LegEvaluation& at, std::size_t function) {
  return Symmetric(at.second[0][function], at.second[1][function], at.second[2][function]);
}

Matrix2d Damping(const LegEvaluation& at) {
  return Symmetric(at.value[F::kDamping], at.value[F::kDamping + 1], at.value[F::kDamping + 2]);
}

}  // namespace

absl::StatusOr<Matrix2d> RestStiffness(const v1::Leg& leg) {
  GAITSHELF_ASSIGN_OR_RETURN(const LegEvaluation at, EvaluateAtRest(leg));
  return Curvature(at, F::kPotential);
}

absl::StatusOr<LinearLeg> LineariseLeg(const v1::Leg& leg, const LegNumbers& numbers) {
  GAITSHELF_ASSIGN_OR_RETURN(const LegEvaluation at, EvaluateAtRest(leg));
  LinearLeg linear;
  linear.mass =
      Symmetric(at.value[F::kRateRate], at.value[F::kRateRate + 1], at.value[F::kRateRate + 2]);
  linear.weight_stiffness = kGravityMPerS2 * Curvature(at, F::kFirstMoment + 2);
  for (std::size_t axis = 0; axis < 2; ++axis) {
    LegFactors twice;
    twice.stiffness[axis] = 2.0;
    GAITSHELF_ASSIGN_OR_RETURN(const LegEvaluation stiff,
                               EvaluateAtRest(numbers.Scaled(leg, twice)));
    linear.stiffness[axis] = Curvature(stiff, F::kPotential) - Curvature(at, F::kPotential);
    twice = LegFactors();
    twice.damping[axis] = 2.0;
    GAITSHELF_ASSIGN_OR_RETURN(const LegEvaluation damped,
                               EvaluateAtRest(numbers.Scaled(leg, twice)));
    linear.damping[axis] = Damping(damped) - Damping(at);
    const v1::Bimorph* bimorph = BimorphOf(leg, static_cast<int>(axis));
    linear.has_drive[axis] = bimorph != nullptr;
    linear.bias_v[axis] = bimorph != nullptr ? bimorph->bias_v() : 0.0;
    const double force_n_per_v = bimorph != nullptr ? WithoutLayers(*bimorph).gain_n_per_v() : 0.0;
    for (std::size_t by = 0; by < 2; ++by) {
      linear.gain(static_cast<Eigen::Index>(by), static_cast<Eigen::Index>(axis)) =
          force_n_per_v * at.first[by][F::kTravel + axis];
      for (std::size_t k = 0; k < 3; ++k) {
        linear.foot_rate(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(by)) =
            at.first[by][F::kFoot + k];
      }
    }
  }
  return linear;
}

}  // namespace gaitshelf::solver
