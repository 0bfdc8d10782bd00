#include "service/playback/setpoint_source.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "service/playback/playable_gait.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {

absl::StatusOr<SetpointSource> SetpointSource::Create(const v1::Gait& gait,
                                                      const v1::Robot& robot,
                                                      const SetpointOptions& options) {
  GAITSHELF_ASSIGN_OR_RETURN(PlayableGait playable, MakePlayable(gait, robot));
  std::vector<PlayableGait> gaits;
  gaits.push_back(std::move(playable));
  GAITSHELF_ASSIGN_OR_RETURN(SessionSampler sampler,
                             SessionSampler::Create(std::move(gaits),
                                                    robot,
                                                    {.sample_rate_hz = options.sample_rate_hz,
                                                     .ramp_s = options.ramp_s,
                                                     .drive_bits = options.drive_bits}));
  sampler.Start();
  return SetpointSource(
      std::move(sampler),
      std::llround((options.ramp_s + options.duration_s) * options.sample_rate_hz));
}

v1::SetpointBlock SetpointSource::NextBlock(int sample_count) {
  v1::SetpointBlock block;
  const auto before = static_cast<int>(
      std::clamp<std::int64_t>(moving_sample_count_ - sampler_.sample_count(), 0, sample_count));
  sampler_.Append(before, &block, nullptr);
  if (sampler_.sample_count() >= moving_sample_count_) {
    sampler_.Stop();
  }
  sampler_.Append(sample_count - before, &block, nullptr);
  return block;
}

}  // namespace gaitshelf::service
