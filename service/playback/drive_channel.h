// What playback must know of each leg coordinate of a robot: where it rests, and its drive.
#ifndef GAITSHELF_SERVICE_PLAYBACK_DRIVE_CHANNEL_H_
#define GAITSHELF_SERVICE_PLAYBACK_DRIVE_CHANNEL_H_

#include <optional>
#include <string>
#include <vector>

#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/playback/voltage_limiter.h"

namespace gaitshelf::service {

struct DriveChannel {
  std::string path;  // of the coordinate in the description
  double rest_m = 0.0;
  v1::Bimorph bimorph;                    // only with a limiter
  std::optional<VoltageLimiter> limiter;  // absent for a passive coordinate
};

struct ChannelOptions {
  double sample_rate_hz = 1000.0;
  int drive_bits = 0;  // 0 means no rounding
};

// Returns the channels of a robot that has passed its check, lift before swing, drives at rest.
//
// Errors:
//   kFailedPrecondition   a drive is too slow to come to rest, or too slow for the steps of the
//                         converter at the sample rate
absl::StatusOr<std::vector<DriveChannel>> MakeChannels(const v1::Robot& robot,
                                                       const ChannelOptions& options);

// Checks that every drive can move by a step of its converter in a sample.
//
// Errors:
//   kFailedPrecondition   one cannot
absl::Status CheckConverters(const std::vector<DriveChannel>& channels,
                             const ChannelOptions& options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_DRIVE_CHANNEL_H_
