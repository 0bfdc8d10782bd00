// The samples of one stream: up from rest, along one gait for a time, down to rest. A session
// (session_sampler.h) whose only command is the stop at the end. Knows no clock and no network.
#ifndef GAITSHELF_SERVICE_PLAYBACK_SETPOINT_SOURCE_H_
#define GAITSHELF_SERVICE_PLAYBACK_SETPOINT_SOURCE_H_

#include <cstdint>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/playback_service.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "service/playback/session_sampler.h"

namespace gaitshelf::service {

struct SetpointOptions {
  double sample_rate_hz = 1000.0;
  double duration_s = 0.0;  // without the ramps
  double ramp_s = 0.5;      // each
  int drive_bits = 0;       // 0 means no rounding
};

class SetpointSource {
 public:
  // The robot must be the version that the gait was solved for.
  //
  // Errors:
  //   kDataLoss             the gait's arrays are damaged
  //   kFailedPrecondition   gait and robot do not belong together; a drive is too slow to come to
  //   rest, or too slow for the steps of the converter
  static absl::StatusOr<SetpointSource> Create(const v1::Gait& gait,
                                               const v1::Robot& robot,
                                               const SetpointOptions& options);

  // Returns the next samples, at most sample_count of them; fewer at the end, none after it. The
  // last sample is the rest posture.
  v1::SetpointBlock NextBlock(int sample_count);

  // Starts the way down with the next sample, also from the way up.
  void EndEarly() { sampler_.Stop(); }

  bool is_finished() const { return sampler_.is_finished(); }

 private:
  SetpointSource(SessionSampler sampler, std::int64_t moving_sample_count)
      : sampler_(std::move(sampler)), moving_sample_count_(moving_sample_count) {}

  SessionSampler sampler_;
  std::int64_t moving_sample_count_;  // before the way down
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_SETPOINT_SOURCE_H_
