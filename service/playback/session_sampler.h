// The samples of a session: up from rest, along gaits and from one to another, down to rest.
//
// The whole is one formula. For each leg coordinate, with the share g of motion, which rises from 0
// to 1 at the start and falls back in the end, and the share w of the gait that is faded to:
//   x = rest + g ((1 - w) x_a(phase_a) + w x_b(phase_b) - rest)
// g and w are quintic fades (fade.h), phases are integrals of a frequency without jumps, so that
// position and rate have no jump at any command. The voltage is mixed by the same shares and then
// held inside range and slew (voltage_limiter.h).
//
// Two periodic gaits share one phase while they fade. Its frequency is the pace over the mixed
// period (1 - w) T_a + w T_b: with the greatest slopes A and B of the curves over phase, the rate
// is
//   ((1 - w) A + w B) / ((1 - w) T_a + w T_b)  <=  max(A / T_a, B / T_b)
// by the mediant inequality, that is never more than the faster gait's own. (Mixed frequencies
// would play a long stride at the frequency of a quick one.) What the fade adds, w' (x_b - x_a), is
// bounded by the fade's duration, which is chosen for that.
//
// Knows no clock and no network.
#ifndef GAITSHELF_SERVICE_PLAYBACK_SESSION_SAMPLER_H_
#define GAITSHELF_SERVICE_PLAYBACK_SESSION_SAMPLER_H_

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "gaitshelf/v1/playback_service.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/playback/body_way.h"
#include "service/playback/drive_channel.h"
#include "service/playback/fade.h"
#include "service/playback/playable_gait.h"

namespace gaitshelf::service {

struct SamplerOptions {
  double sample_rate_hz = 1000.0;
  double ramp_s = 0.5;  // of the way up, and of the way down
  int drive_bits = 0;   // 0 means no rounding
};

class SessionSampler {
 public:
  // The first gait is the one that Start starts. All must belong to the robot.
  //
  // Errors:
  //   kFailedPrecondition   legs or feet of the gaits differ; a drive is too slow to come to rest,
  //                         or too slow for the steps of the converter
  static absl::StatusOr<SessionSampler> Create(std::vector<PlayableGait> gaits,
                                               const v1::Robot& robot,
                                               const SamplerOptions& options);

  // ---- Commands. Each takes effect with the next sample. ----

  // Starts the way up; until then there are no samples.
  void Start();
  // Goes over to another of the gaits when the present switch, if any, has ended and, between
  // periodic gaits, at a phase: the given one or the one at which they are closest. Takes the place
  // of a switch that has not begun; the gait that is played already takes it back.
  //
  // Errors:
  //   kFailedPrecondition   on the way down
  absl::Status SwitchTo(int gait_index, std::optional<double> phase_ratio);
  // Brings the gait's frequency to a share of the planned one, 0 (open) to 1, at 2 a second.
  void SetPace(double pace_ratio);
  // Changes the time between samples.
  //
  // Errors:
  //   kFailedPrecondition   too fast for the steps of the converter; nothing has changed
  absl::Status SetSampleRate(double sample_rate_hz);
  // Starts the way down, also from the way up.
  void Stop();

  // ---- Samples ----

  // Appends the next samples, at most sample_count of them; fewer at the end. `changes` may be
  // null.
  void Append(int sample_count, v1::SetpointBlock* block, std::vector<v1::StateChange>* changes);

  bool is_started() const { return state_ != v1::SESSION_STATE_UNSPECIFIED; }
  bool is_finished() const { return state_ == v1::SESSION_STATE_RESTED; }
  v1::SessionState state() const { return state_; }
  std::int64_t sample_count() const { return sample_count_; }
  const std::vector<PlayableGait>& gaits() const { return gaits_; }
  double sample_rate_hz() const { return options_.sample_rate_hz; }
  // All but the times of the session's pacing.
  v1::SessionLimits Limits() const;
  // Coordinates that were held back at the limit of their rate. 0 but at sample rates so low that
  // a curve between samples is far from straight.
  std::int64_t held_back_count() const { return held_back_count_; }

 private:
  // A gait that runs.
  struct Voice {
    int gait_index = 0;
    double phase_ratio = 0.0;  // of a hop not wrapped: below 0 it waits, at 1 it stays
    BodyStep step;             // of the body since the last sample
    CurvePoint point;          // at the phase
  };

  explicit SessionSampler(const SamplerOptions& options) : options_(options) {}

  void SetRateLimits();
  const PlayableGait& GaitOf(const Voice& voice) const {
    return gaits_[static_cast<std::size_t>(voice.gait_index)];
  }
  bool IsMatched() const;
  double SwitchDuration() const;
  void BeginSwitch();
  void EndSwitch();
  bool MayBeginSwitch(double phase_before_ratio) const;

  double FrequencyHz(const Voice& voice, double share_ratio) const;
  void MoveVoice(Voice* voice, double cycles);
  void EvaluateVoice(Voice* voice) const;
  void MovePace();
  void Advance();
  void EnterState(v1::SessionState state);
  void ReportChange(std::vector<v1::StateChange>* changes);
  bool IsAtRest() const;

  void AppendSample(v1::SetpointBlock* block, std::vector<v1::StateChange>* changes);
  void AppendLegs(const Fade::Value& motion, const Fade::Value& share, v1::SetpointBlock* block);
  void AppendPosition(std::size_t index, double wanted_m, v1::SetpointBlock* block);
  void AppendVoltage(std::size_t index,
                     double gait_v,
                     double motion_ratio,
                     v1::SetpointBlock* block);
  void AppendBody(bool is_ramping, double share_ratio, v1::SetpointBlock* block);

  SamplerOptions options_;
  std::vector<PlayableGait> gaits_;
  std::vector<DriveChannel> channels_;
  std::vector<double> blend_rate_m_per_s_;  // what gaits and switches may take of the limit
  std::vector<double> rate_limit_m_per_s_;
  std::vector<double> last_position_m_;

  v1::SessionState state_ = v1::SESSION_STATE_UNSPECIFIED;
  bool is_change_due_ = false;  // the next sample is the first of the state
  std::int64_t sample_count_ = 0;
  double time_s_ = 0.0;                // of the next sample
  double rate_start_s_ = 0.0;          // since when samples come at this rate
  std::int64_t rate_start_count_ = 0;  // and how many there were
  std::int64_t held_back_count_ = 0;

  Fade motion_{0.0};
  double motion_start_s_ = 0.0;
  double pace_ratio_ = 1.0;
  double wanted_pace_ratio_ = 1.0;
  Voice voice_;
  std::optional<Voice> next_voice_;  // while a switch is under way
  Fade share_{0.0};
  double share_start_s_ = 0.0;
  std::optional<int> wanted_gait_index_;  // of a switch that has not begun
  std::optional<double> wanted_phase_ratio_;
  bool was_moving_ = false;  // the last sample was on no ramp
  std::array<double, 3> body_position_m_{};
  std::array<double, 3> body_attitude_rad_{};
  BodyWay way_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_SESSION_SAMPLER_H_
