// A leg with a linkage, compiled: its functions are fitted once by polynomials over the range of
// its two coordinates, and evaluated from those ever after.
//
// The derivatives are those of the polynomials, so the compiled leg is itself an exactly Lagrangian
// system; the fit only decides how near it is to the linkage.
#ifndef GAITSHELF_SOLVER_LEG_COMPILED_LEG_H_
#define GAITSHELF_SOLVER_LEG_COMPILED_LEG_H_

#include <array>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/leg/chebyshev_table.h"
#include "solver/leg/compile_report.h"
#include "solver/leg/leg_model.h"
#include "solver/leg/scale.h"
#include "solver/leg/stop.h"

namespace gaitshelf::solver {

class CompiledLeg final : public LegModel {
 public:
  // Compiles a leg that has passed its check.
  //
  // Errors:
  //   kInvalidArgument     names, references or arrays are not those of a checked leg
  //   kFailedPrecondition  the loops are lost in the range or near it, or the functions are too
  //                        curved for a fit
  static absl::StatusOr<CompiledLeg> Create(const v1::LinkageLeg& leg, const Scale& scale);

  double mass() const override { return mass_; }
  void Evaluate(const Eigen::Vector2d& y, LegEvaluation* evaluation) const override;
  void EvaluateFootAndTravel(const Eigen::Vector2d& y, LegEvaluation* evaluation) const override;

  const StoppedTravel& travel(int coordinate) const {
    return travels_[static_cast<size_t>(coordinate)];
  }
  const CompileReport& report() const { return report_; }

 private:
  CompiledLeg() = default;

  Eigen::Vector2d TableArgument(const Eigen::Vector2d& y) const {
    return (y - middle_).cwiseProduct(rate_);
  }

  double mass_ = 0.0;
  ChebyshevTable table_;
  Eigen::Vector2d middle_ = Eigen::Vector2d::Zero();
  Eigen::Vector2d rate_ = Eigen::Vector2d::Ones();  // table argument per coordinate
  std::array<StoppedTravel, 2> travels_;
  CompileReport report_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_COMPILED_LEG_H_
