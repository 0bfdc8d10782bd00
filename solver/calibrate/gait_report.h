// What the fit of gaits goes into a calibration as.
#ifndef GAITSHELF_SOLVER_CALIBRATE_GAIT_REPORT_H_
#define GAITSHELF_SOLVER_CALIBRATE_GAIT_REPORT_H_

#include <map>
#include <string>

#include <Eigen/Core>

#include "gaitshelf/v1/calibration.pb.h"

#include "solver/calibrate/gait_fit.h"
#include "solver/calibrate/gait_unknowns.h"

namespace gaitshelf::solver {

// Standard deviations of the logarithms of what a calibration has told so far, by parameter.
std::map<std::string, double> ToldSoFar(const v1::Calibration& calibration);

// Adds the estimates of what no other test has told, in the place of those that other tests left
// open, what hangs together, and how well each channel is explained. Returns the logarithms to take
// over: when the gaits told any, all of them, for what is hardly told by itself belongs to what is;
// 0 for what other tests told.
Eigen::VectorXd ReportGaits(const GaitUnknowns& unknowns,
                            const GaitFit& fit,
                            v1::Calibration* calibration);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_GAIT_REPORT_H_
