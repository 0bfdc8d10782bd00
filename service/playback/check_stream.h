// Checks of a request for a stream. Every fault is reported, not the first only.
#ifndef GAITSHELF_SERVICE_PLAYBACK_CHECK_STREAM_H_
#define GAITSHELF_SERVICE_PLAYBACK_CHECK_STREAM_H_

#include <vector>

#include "gaitshelf/v1/check.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/playback_service.pb.h"

namespace gaitshelf::service {

// Rate of a request that names none, Hz.
inline constexpr double kDefaultSampleRateHz = 1000.0;

// Checks what can be said without the gait.
std::vector<v1::FieldViolation> CheckStream(const v1::StreamSetpointsRequest& request);
// Checks that the sample rate is high enough for the gait's leg trajectories.
std::vector<v1::FieldViolation> CheckStreamFor(const v1::StreamSetpointsRequest& request,
                                               const v1::Gait& gait);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_CHECK_STREAM_H_
