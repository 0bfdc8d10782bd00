// Estimates the pose of the body through a stored trial, as a control loop would have known it.
#ifndef GAITSHELF_SERVICE_API_ESTIMATE_POSE_H_
#define GAITSHELF_SERVICE_API_ESTIMATE_POSE_H_

#include <functional>

#include "gaitshelf/v1/trial_service.pb.h"

#include "absl/status/status.h"
#include "service/library/library.h"

namespace gaitshelf::service {

// Takes a block of poses; an error ends the estimate, which returns it.
using PoseBlockSink = std::function<absl::Status(const v1::TrialPoseBlock&)>;

// Errors:
//   kInvalidArgument      a field is missing or not in its range
//   kNotFound             no such trial
//   kFailedPrecondition   the trial is a bench test or lacks what an estimate needs, or the delay
//                         is neither given nor to be found
//   kDataLoss             stored samples do not match their checksum
absl::Status EstimatePose(Library* library,
                          const v1::StreamTrialPoseRequest& request,
                          const PoseBlockSink& sink);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_ESTIMATE_POSE_H_
