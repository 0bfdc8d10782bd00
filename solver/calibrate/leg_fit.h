// Fits the numbers of one leg to its bench tests.
#ifndef GAITSHELF_SOLVER_CALIBRATE_LEG_FIT_H_
#define GAITSHELF_SOLVER_CALIBRATE_LEG_FIT_H_

#include <array>
#include <atomic>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "absl/status/statusor.h"
#include "solver/calibrate/bench_record.h"
#include "solver/calibrate/linear_leg.h"
#include "solver/calibrate/noise.h"

namespace gaitshelf::solver {

// Order of a leg's unknowns, each the logarithm of a factor.
struct LegUnknown {
  static constexpr Eigen::Index kStiffness = 0;  // lift, swing
  static constexpr Eigen::Index kDamping = 2;
  static constexpr Eigen::Index kGain = 4;
  static constexpr Eigen::Index kMass = 6;
  static constexpr Eigen::Index kCount = 7;
};

struct LegFitRequest {
  const LinearLeg* leg = nullptr;
  std::vector<BenchRecord> records;  // at least one
  double mass_ratio = 0.0;           // standard uncertainty of the leg's mass before the data
  const std::atomic<bool>* stop = nullptr;
};

// What a fit leaves over of one measured coordinate.
struct ChannelFit {
  std::string trial;
  int axis = 0;
  Noise noise;            // m
  double signal_m = 0.0;  // root mean square about the mean
};

struct LegFit {
  Eigen::VectorXd estimate;    // LegUnknown::kCount
  Eigen::MatrixXd covariance;  // of it
  Eigen::VectorXd prior;       // standard deviation that each unknown had before the data
  std::vector<ChannelFit> channels;
};

// Returns the factors that those logarithms stand for.
LegFactors FactorsOf(const Eigen::VectorXd& unknowns);

// Only the mass has a narrow prior: what rings tells stiffness over mass and no more. All else may
// be off by a factor of two.
//
// Errors:
//   kFailedPrecondition  the data cannot be explained
//   kCancelled           the stop flag was raised
absl::StatusOr<LegFit> FitLeg(const LegFitRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_LEG_FIT_H_
