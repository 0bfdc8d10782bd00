// A leg with a linkage, evaluated from the polynomials that it was compiled to (compile_leg.h).
//
// The derivatives are those of the polynomials, so the compiled leg is itself an exactly Lagrangian
// system; the fit only decides how near it is to the linkage.
#ifndef GAITSHELF_SOLVER_LEG_COMPILED_LEG_H_
#define GAITSHELF_SOLVER_LEG_COMPILED_LEG_H_

#include <array>

#include <Eigen/Core>

#include "gaitshelf/v1/leg_table.pb.h"

#include "solver/leg/chebyshev_table.h"
#include "solver/leg/leg_model.h"
#include "solver/leg/scale.h"
#include "solver/leg/stop.h"

namespace gaitshelf::solver {

class CompiledLeg final : public LegModel {
 public:
  // Takes a table that CompileLeg made, or one that TablesFit accepts.
  CompiledLeg(const v1::LegTable& table, const Scale& scale);

  double mass() const override { return mass_; }
  void Evaluate(const Eigen::Vector2d& y,
                DerivativeOrder order,
                LegEvaluation* evaluation) const override;
  void EvaluateFootAndTravel(const Eigen::Vector2d& y,
                             DerivativeOrder order,
                             LegEvaluation* evaluation) const override;

  const StoppedTravel& travel(int coordinate) const {
    return travels_[static_cast<size_t>(coordinate)];
  }

 private:
  Eigen::Vector2d TableArgument(const Eigen::Vector2d& y) const {
    return (y - middle_).cwiseProduct(rate_);
  }

  double mass_ = 0.0;
  ChebyshevTable table_;
  Eigen::Vector2d middle_ = Eigen::Vector2d::Zero();
  Eigen::Vector2d rate_ = Eigen::Vector2d::Ones();  // table argument per coordinate
  std::array<StoppedTravel, 2> travels_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_COMPILED_LEG_H_
