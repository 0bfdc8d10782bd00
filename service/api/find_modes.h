// Answers ModelService.FindModes from a description: models, no library, no gRPC.
#ifndef GAITSHELF_SERVICE_API_FIND_MODES_H_
#define GAITSHELF_SERVICE_API_FIND_MODES_H_

#include "gaitshelf/v1/model_service.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/robot/violation.h"

namespace gaitshelf::service {

// Returns the faults of the request's own fields; those of a description in it are not among them.
solver::Violations CheckFindModes(const v1::FindModesRequest& request);

// Answers a request that has no faults for a robot that has passed its check.
//
// Errors:
//   kFailedPrecondition   the robot cannot stand straight on its feet, or shall fly with a
//                         clamped body
absl::StatusOr<v1::FindModesResponse> FindModesOf(const v1::Robot& robot,
                                                  const v1::FindModesRequest& request);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_FIND_MODES_H_
