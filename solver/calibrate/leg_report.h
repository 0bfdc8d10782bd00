// What the fit of a leg goes into a calibration as.
#ifndef GAITSHELF_SOLVER_CALIBRATE_LEG_REPORT_H_
#define GAITSHELF_SOLVER_CALIBRATE_LEG_REPORT_H_

#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "solver/calibrate/estimate.h"
#include "solver/calibrate/leg_fit.h"
#include "solver/calibrate/linear_leg.h"

namespace gaitshelf::solver {

// What bench tests and gaits may tell of a leg: stiffness, damping where it has any and gain where
// it has a drive, of lift and then of swing, and mass.
std::vector<EstimateSubject> LegSubjects(const v1::Leg& leg, const LinearLeg& linear);

// Adds the leg's estimates, what hangs together, and how well each channel is explained. Returns
// the unknowns that the data told, 0 for the others.
Eigen::VectorXd ReportLeg(const v1::Leg& leg,
                          const LinearLeg& linear,
                          const LegFit& fit,
                          v1::Calibration* calibration);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_LEG_REPORT_H_
