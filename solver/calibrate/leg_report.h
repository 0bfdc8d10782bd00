// What the fit of a leg goes into a calibration as.
#ifndef GAITSHELF_SOLVER_CALIBRATE_LEG_REPORT_H_
#define GAITSHELF_SOLVER_CALIBRATE_LEG_REPORT_H_

#include <Eigen/Core>

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "solver/calibrate/leg_fit.h"
#include "solver/calibrate/linear_leg.h"

namespace gaitshelf::solver {

// Adds the leg's estimates, what hangs together, and how well each channel is explained. Returns
// the unknowns that the data told, 0 for the others.
Eigen::VectorXd ReportLeg(const v1::Leg& leg,
                          const LinearLeg& linear,
                          const LegFit& fit,
                          v1::Calibration* calibration);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_LEG_REPORT_H_
