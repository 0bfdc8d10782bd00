#include "service/playback/drive_channel.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Longest time that a drive may need across its range. Slower ones could keep a stream from ending.
constexpr double kLongestSweep_s = 30.0;

absl::Status CheckSweep(const v1::Bimorph& bimorph, const std::string& path) {
  const double sweep_s = (bimorph.max_v() - bimorph.min_v()) / bimorph.slew_v_per_s();
  if (sweep_s <= kLongestSweep_s) {
    return absl::OkStatus();
  }
  return absl::FailedPreconditionError(absl::StrCat(path,
                                                    ": the drive needs ",
                                                    sweep_s,
                                                    " s across its range; playback allows at most ",
                                                    kLongestSweep_s,
                                                    " s; check slew_v_per_s of the robot"));
}

// Bimorph of a coordinate, null when it is passive.
const v1::Bimorph* BimorphOf(const v1::Leg& leg, bool is_lift) {
  if (leg.has_linkage()) {
    const v1::LinkageCoordinate& coordinate =
        is_lift ? leg.linkage().lift() : leg.linkage().swing();
    return coordinate.has_drive() ? &coordinate.drive().bimorph() : nullptr;
  }
  const v1::LegCoordinate& coordinate = is_lift ? leg.lumped().lift() : leg.lumped().swing();
  return coordinate.has_bimorph() ? &coordinate.bimorph() : nullptr;
}

// Where a coordinate rests: at 0, or at the end of its travel nearest to 0. The travel of a linkage
// leg holds 0.
double RestPosition(const v1::Leg& leg, bool is_lift) {
  if (leg.has_linkage()) {
    return 0.0;
  }
  const v1::LegCoordinate& coordinate = is_lift ? leg.lumped().lift() : leg.lumped().swing();
  return std::clamp(0.0, coordinate.min_m(), coordinate.max_m());
}

}  // namespace

absl::StatusOr<std::vector<DriveChannel>> MakeChannels(const v1::Robot& robot,
                                                       const ChannelOptions& options) {
  std::vector<DriveChannel> channels;
  for (int i = 0; i < 2 * robot.legs_size(); ++i) {
    const v1::Leg& leg = robot.legs(i / 2);
    const bool is_lift = i % 2 == 0;
    DriveChannel channel;
    channel.path = absl::StrCat(
        "legs[", i / 2, leg.has_linkage() ? "].linkage." : "].lumped.", is_lift ? "lift" : "swing");
    channel.rest_m = RestPosition(leg, is_lift);
    if (const v1::Bimorph* bimorph = BimorphOf(leg, is_lift); bimorph != nullptr) {
      GAITSHELF_RETURN_IF_ERROR(CheckSweep(*bimorph, channel.path));
      channel.bimorph = *bimorph;
      channel.limiter.emplace(*bimorph, 1.0 / options.sample_rate_hz, options.drive_bits);
    }
    channels.push_back(std::move(channel));
  }
  GAITSHELF_RETURN_IF_ERROR(CheckConverters(channels, options));
  return channels;
}

absl::Status CheckConverters(const std::vector<DriveChannel>& channels,
                             const ChannelOptions& options) {
  for (const DriveChannel& channel : channels) {
    if (!channel.limiter.has_value()) {
      continue;
    }
    const VoltageLimiter limiter(channel.bimorph, 1.0 / options.sample_rate_hz, options.drive_bits);
    if (!limiter.can_move()) {
      return absl::FailedPreconditionError(
          absl::StrCat(channel.path,
                       ": one step of a ",
                       options.drive_bits,
                       "-bit converter is more than slew_v_per_s = ",
                       channel.bimorph.slew_v_per_s(),
                       " allows in a sample; ask for more drive_bits or a lower sample_rate_hz"));
    }
  }
  return absl::OkStatus();
}

}  // namespace gaitshelf::service
