// Estimates as a calibration reports them.
#ifndef GAITSHELF_SOLVER_CALIBRATE_ESTIMATE_H_
#define GAITSHELF_SOLVER_CALIBRATE_ESTIMATE_H_

#include <string>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/calibration.pb.h"

namespace gaitshelf::solver {

// A fit tells a number when it has at least halved the uncertainty that was there before.
inline constexpr double kToldRatio = 0.5;

// What an estimate is of.
struct EstimateSubject {
  v1::CalibrationQuantity quantity = v1::CALIBRATION_QUANTITY_UNSPECIFIED;
  std::string leg{};  // empty for friction
  int axis = 0;
  double described_si = 1.0;
};

// A factor that was fitted by its logarithm.
struct FittedFactor {
  double log = 0.0;
  double log_deviation = 0.0;
  double prior_deviation = 1.0;     // of the logarithm, before the data
  double half_width = 1.959963985;  // of the 95 % interval, over the deviation
};

// "front-left lift stiffness", "front-left mass", "friction".
std::string ParameterName(const EstimateSubject& subject);

// Returns the estimate with its interval, told or not. The reason is the caller's.
v1::CalibrationEstimate MakeEstimate(const EstimateSubject& subject, const FittedFactor& factor);

// Adds the pairs that the data hardly tell apart: those correlated by more than 0.9 in size. Names
// stand in the order of the covariance; an empty one is left out.
void AddCorrelations(const std::vector<std::string>& names,
                     const Eigen::MatrixXd& covariance,
                     v1::Calibration* calibration);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_ESTIMATE_H_
