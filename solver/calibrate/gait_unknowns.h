// The numbers that a gait's trial can tell: friction, and stiffness, damping, gain and mass of each
// leg, each as the logarithm of its factor on the description's.
#ifndef GAITSHELF_SOLVER_CALIBRATE_GAIT_UNKNOWNS_H_
#define GAITSHELF_SOLVER_CALIBRATE_GAIT_UNKNOWNS_H_

#include <cstddef>
#include <map>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/calibrate/estimate.h"
#include "solver/calibrate/leg_numbers.h"

namespace gaitshelf::solver {

class GaitUnknowns {
 public:
  // Starts from descriptions that may hold numbers which other tests told: `told` has the standard
  // deviation of their logarithms by ParameterName. All others may be off by up to a fifth, damping
  // by three tenths, or have what the descriptions state as deviation where that is more; masses
  // have what is stated.
  //
  // Errors are those of CompileLeg.
  static absl::StatusOr<GaitUnknowns> Create(const v1::Robot& robot,
                                             const v1::Surface& surface,
                                             const std::map<std::string, double>& told);

  Eigen::Index count() const { return static_cast<Eigen::Index>(subjects_.size()); }
  const EstimateSubject& subject(Eigen::Index i) const {
    return subjects_[static_cast<std::size_t>(i)];
  }
  // True when another test has told it.
  bool is_told(Eigen::Index i) const { return is_told_[static_cast<std::size_t>(i)]; }
  // Standard deviation of each logarithm before the gait's trial.
  const Eigen::VectorXd& prior() const { return prior_; }

  v1::Robot RobotOf(const Eigen::VectorXd& logs) const;
  v1::Surface SurfaceOf(const Eigen::VectorXd& logs) const;

 private:
  GaitUnknowns(v1::Robot robot, v1::Surface surface);
  void Add(const EstimateSubject& subject,
           double stated,
           const std::map<std::string, double>& told);

  v1::Robot robot_;
  v1::Surface surface_;
  std::vector<LegNumbers> numbers_;
  std::vector<EstimateSubject> subjects_;
  std::vector<int> legs_;  // index of each unknown's leg; -1 for friction
  std::vector<bool> is_told_;
  Eigen::VectorXd prior_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_GAIT_UNKNOWNS_H_
