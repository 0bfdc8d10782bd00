// Friction from tests on a bench: a plane that is tilted until a foot slides, a foot that slides
// down a tilted plane, a sled that is drawn along.
#ifndef GAITSHELF_SOLVER_CALIBRATE_FRICTION_H_
#define GAITSHELF_SOLVER_CALIBRATE_FRICTION_H_

#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "absl/types/span.h"
#include "solver/measure/trial_table.h"

namespace gaitshelf::solver {

// One trial's answer, or what several say together.
struct FrictionFigure {
  std::string trial{};
  v1::FrictionMethod method = v1::FRICTION_METHOD_UNSPECIFIED;
  double friction = 0.0;
  double uncertainty = 0.0;  // standard
  double degrees_of_freedom = std::numeric_limits<double>::infinity();
  std::int64_t count = 0;    // repetitions or samples
  double deviation = 0.0;    // between them
  bool is_moving = false;    // friction while sliding, not at its start
  double birge_ratio = 1.0;  // of several: their scatter over what they claim, at least 1
};

struct FrictionTest {
  const TrialTable* table = nullptr;  // of TRIAL_KIND_TILT or TRIAL_KIND_SLED
  v1::CalibrationOptions options{};
  // The plane's angle at which what stands on it tips over, rad; rows at or beyond it are refused.
  double tipping_rad = std::numeric_limits<double>::infinity();
};

// Returns the friction of a trial with the uncertainty that its scatter and the instrument leave:
//   at the start of sliding       mu = tan(tilt), u(mu) = (1 + mu^2) u(tilt)
//   slid a distance s in time t   mu = tan(tilt) - 2 s / (g t^2 cos(tilt))
//   drawn                         mu = pull / normal force, over the rows in which it moves
// Rows of a tilt with distance and time are of the second kind.
//
// Errors:
//   kInvalidArgument     a row makes no sense: column, row and value
//   kFailedPrecondition  too few rows to tell an uncertainty
absl::StatusOr<FrictionFigure> MeasureFriction(const FrictionTest& test);

// Returns the mean of several figures weighted by their variances. Where they scatter more than
// they claim, the uncertainty grows by that ratio (R. T. Birge, Phys. Rev. 40 (1932) 207-227, from
// memory). Degrees of freedom by Welch and Satterthwaite (from memory). Not empty.
FrictionFigure CombineFriction(absl::Span<const FrictionFigure> figures);

// Standard uncertainty of a surface's described friction, as a share of it.
double DescribedFrictionRatio(const v1::Surface& surface);

// Angle of a slope at which the robot, standing straight with its head up it, tips over backwards,
// rad: where the centre of mass is above the rearmost feet.
double TippingAngle(const v1::Robot& robot);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_FRICTION_H_
