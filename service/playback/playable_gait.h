// A gait made ready to be played: its curve, and what a switch between gaits must know of it.
#ifndef GAITSHELF_SERVICE_PLAYBACK_PLAYABLE_GAIT_H_
#define GAITSHELF_SERVICE_PLAYBACK_PLAYABLE_GAIT_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "service/playback/gait_curve.h"

namespace gaitshelf::service {

struct PlayableGait {
  std::string name;
  bool is_periodic = false;
  std::vector<std::string> leg_names;
  std::vector<std::string> foot_names;
  GaitCurve curve;
  std::vector<LegBounds> bounds;      // 2L
  double least_sample_rate_hz = 0.0;  // that a stream must exceed
};

// Copies what it needs of the gait. The robot must be the version that the gait was solved for.
//
// Errors:
//   kDataLoss             the gait's arrays are damaged
//   kFailedPrecondition   gait and robot do not belong together
absl::StatusOr<PlayableGait> MakePlayable(const v1::Gait& gait, const v1::Robot& robot);

// Returns the phase, 0 to 1, at which the legs of two periodic gaits are closest: the least sum of
// squared distances over the coordinates.
double ClosestPhase(const PlayableGait& from, const PlayableGait& to);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_PLAYABLE_GAIT_H_
