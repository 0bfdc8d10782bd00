// Turns messages of a session into plain data, and refuses those that do not hold what they say.
#ifndef GAITSHELF_CLIENTS_CONTROLLER_READ_BLOCK_H_
#define GAITSHELF_CLIENTS_CONTROLLER_READ_BLOCK_H_

#include "gaitshelf/v1/playback_service.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "clients/controller/setpoint.h"

namespace gaitshelf::client {

// Errors:
//   kDataLoss           the arrays do not belong together
//   kResourceExhausted  more channels than a setpoint has
absl::StatusOr<Limits> ReadLimits(const v1::SessionLimits& message);

// Checks that a block follows after `expected_number` samples and that its arrays have the stated
// lengths.
//
// Errors:
//   kDataLoss   samples are missing, or an array has another length
absl::Status CheckBlock(const v1::SetpointBlock& block,
                        const Limits& limits,
                        std::int64_t expected_number);

// Sample `index` of a block that was checked.
Setpoint ReadSetpoint(const v1::SetpointBlock& block, const Limits& limits, int index);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CONTROLLER_READ_BLOCK_H_
