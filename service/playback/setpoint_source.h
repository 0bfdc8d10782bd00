// The samples of one stream: up from rest, along the gait, down to rest.
//
// A ramp fades the moving gait in from the rest posture (leg coordinates 0, drives at their bias)
// by a quintic blend, so that position, rate and voltage have no jump anywhere; the way down is the
// same backwards. While ramping the phase is -1 and the planned body frame stands where the gait
// takes it over or leaves it. Knows no clock and no network.
#ifndef GAITSHELF_SERVICE_PLAYBACK_SETPOINT_SOURCE_H_
#define GAITSHELF_SERVICE_PLAYBACK_SETPOINT_SOURCE_H_

#include <cstdint>
#include <optional>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/playback_service.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "service/playback/gait_curve.h"
#include "service/playback/voltage_limiter.h"

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

  // Starts the way down with the next sample, or as soon as the way up is done.
  void EndEarly();

  bool is_finished() const { return is_finished_; }

 private:
  // One leg coordinate: where it rests, and its drive, if it has one.
  struct Channel {
    double rest_m = 0.0;
    std::optional<VoltageLimiter> limiter;
  };
  // Share of the gait in a sample and the share's rate of change.
  struct Blend {
    double ratio = 0.0;
    double rate_per_s = 0.0;
  };

  SetpointSource(GaitCurve curve, const SetpointOptions& options);

  Blend BlendAt(double time_s) const;
  void AppendSample(v1::SetpointBlock* block);
  void AppendLegs(const Blend& blend, v1::SetpointBlock* block);
  void AppendBody(double curve_time_s, const Blend& blend, v1::SetpointBlock* block);

  GaitCurve curve_;
  SetpointOptions options_;
  double sample_period_s_ = 0.0;
  std::vector<std::string> leg_names_;
  std::vector<std::string> foot_names_;
  std::vector<Channel> channels_;
  CurvePoint point_;       // at the sample
  CurvePoint body_point_;  // where the body frame stands while ramping
  std::int64_t sample_index_ = 0;
  bool is_finished_ = false;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_SETPOINT_SOURCE_H_
