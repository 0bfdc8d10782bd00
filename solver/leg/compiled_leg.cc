#include "solver/leg/compiled_leg.h"

#include <algorithm>

#include "solver/leg/linkage_functions.h"

namespace gaitshelf::solver {

using Eigen::Vector2d;

CompiledLeg::CompiledLeg(const v1::LegTable& table, const Scale& scale)
    : mass_(table.mass_kg() / scale.mass_kg),
      table_(table.function_coefficient(), FunctionUnits(scale), table.report().degree()) {
  for (int i = 0; i < 2; ++i) {
    const double start = table.start_m(i) / scale.length_m;
    const double end = table.end_m(i) / scale.length_m;
    travels_[static_cast<size_t>(i)] = {
        std::min(start, end),
        std::max(start, end),
        table.stop_stiffness_n_per_m(i) / scale.stiffness_n_per_m()};
    // The table runs along the angle, which may go down where the coordinate goes up.
    middle_[i] = 0.5 * (start + end);
    rate_[i] = 2.0 / (end - start);
  }
}

void CompiledLeg::Evaluate(const Vector2d& y,
                           DerivativeOrder order,
                           LegEvaluation* evaluation) const {
  table_.Evaluate(TableArgument(y), rate_, order, evaluation);
  AddStops(travels_[0], y[0], 0, evaluation);
  AddStops(travels_[1], y[1], 1, evaluation);
}

void CompiledLeg::EvaluateFootAndTravel(const Vector2d& y,
                                        DerivativeOrder order,
                                        LegEvaluation* evaluation) const {
  table_.EvaluateFootAndTravel(TableArgument(y), rate_, order, evaluation);
}

}  // namespace gaitshelf::solver
