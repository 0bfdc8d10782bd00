// One cycle of a gait, or one whole hop, as evenly spaced samples of its curve: the table that a
// controller plays by itself. Knows neither ramps nor limits.
#ifndef GAITSHELF_SERVICE_PLAYBACK_SAMPLE_CYCLE_H_
#define GAITSHELF_SERVICE_PLAYBACK_SAMPLE_CYCLE_H_

#include <vector>

#include "gaitshelf/v1/check.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/playback_service.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::service {

// Checks what can be said without the gait.
std::vector<v1::FieldViolation> CheckSampleGait(const v1::SampleGaitRequest& request);
// Checks that the samples are neither too few for the gait's leg trajectories nor too many.
std::vector<v1::FieldViolation> CheckSampleGaitFor(const v1::SampleGaitRequest& request,
                                                   const v1::Gait& gait);

// Returns the table that a checked request asks for. Time starts at 0 with knot 0; a cycle ends one
// period before its first sample comes again, a hop at its last knot.
//
// Errors:
//   kDataLoss   the gait's arrays are damaged
absl::StatusOr<v1::SetpointBlock> SampleCycle(const v1::SampleGaitRequest& request,
                                              const v1::Gait& gait);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_SAMPLE_CYCLE_H_
