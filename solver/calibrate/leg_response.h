// How a linear leg answers: the part of its motion that hangs on each unknown of a bench test.
#ifndef GAITSHELF_SOLVER_CALIBRATE_LEG_RESPONSE_H_
#define GAITSHELF_SOLVER_CALIBRATE_LEG_RESPONSE_H_

#include <array>

#include <Eigen/Core>

#include "solver/calibrate/bench_record.h"
#include "solver/calibrate/leg_numbers.h"
#include "solver/calibrate/linear_leg.h"

namespace gaitshelf::solver {

// For lift and swing, N x 7: the motion from a unit of each initial value (lift, swing, lift rate,
// swing rate), under the lift drive, under the swing drive (described gain) and under the applied
// forces. Gains are left to the caller, since the motion is linear in them.
struct LegResponse {
  static constexpr Eigen::Index kInitial = 0;
  static constexpr Eigen::Index kDrive = 4;
  static constexpr Eigen::Index kForce = 6;
  static constexpr Eigen::Index kCount = 7;
  std::array<Eigen::MatrixXd, 2> motion;
};

// Exact for inputs that are held between rows. Only coordinates that were measured are filled.
LegResponse Respond(const LinearLeg& leg, const LegFactors& factors, const BenchRecord& record);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_LEG_RESPONSE_H_
