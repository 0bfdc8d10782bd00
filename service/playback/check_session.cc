#include "service/playback/check_session.h"

#include <algorithm>
#include <set>
#include <string>

#include "absl/strings/str_cat.h"
#include "service/playback/check_stream.h"

namespace gaitshelf::service {
namespace {

constexpr int kMostGaits = 32;
// At its lowest, before the next message, the buffer holds 75 ms less. Stalls of 0.16 s were
// measured on a busy machine; this outlasts two of them at once, that of the server and that of the
// client.
constexpr double kDefaultLead_s = 0.4;
constexpr double kLeastLead_s = 0.1;
constexpr double kGreatestLead_s = 2.0;
constexpr double kDefaultSilence_s = 0.5;
constexpr double kLeastSilence_s = 0.2;
constexpr double kGreatestSilence_s = 10.0;
constexpr double kLeastPaceRatio = 0.05;

void CheckGaits(const v1::ArmSession& arm, Violations* violations) {
  if (arm.gaits().empty() || arm.gaits_size() > kMostGaits) {
    AddViolation("gaits",
                 absl::StrCat(arm.gaits_size(), " names"),
                 "must be 1 to 32 names of gaits",
                 "name the gait to start with, and those to switch to",
                 violations);
  }
  std::set<std::string> seen;
  for (int i = 0; i < arm.gaits_size(); ++i) {
    if (arm.gaits(i).empty() || !seen.insert(arm.gaits(i)).second) {
      AddViolation(absl::StrCat("gaits[", i, "]"),
                   arm.gaits(i).empty() ? "missing" : arm.gaits(i),
                   "must name a gait, each only once",
                   "take this entry out",
                   violations);
    }
  }
}

}  // namespace

void SetDefaults(v1::ArmSession* arm) {
  if (arm->sample_rate_hz() == 0.0) {
    arm->set_sample_rate_hz(kDefaultSampleRateHz);
  }
  if (arm->lead_s() == 0.0) {
    arm->set_lead_s(kDefaultLead_s);
  }
  if (arm->silence_s() == 0.0) {
    arm->set_silence_s(kDefaultSilence_s);
  }
}

std::vector<v1::FieldViolation> CheckArm(const v1::ArmSession& arm) {
  Violations violations;
  CheckGaits(arm, &violations);
  CheckSampleRate(arm.sample_rate_hz(), &violations);
  CheckName("armed_by", arm.armed_by(), &violations);
  CheckName("drive", arm.drive(), &violations);
  CheckDriveBits(arm.drive_bits(), &violations);
  if (!(arm.lead_s() >= kLeastLead_s && arm.lead_s() <= kGreatestLead_s)) {
    AddViolation("lead_s",
                 absl::StrCat(arm.lead_s()),
                 "must be 0.1 to 2 s, or 0 for 0.4 s",
                 "give the time that the controller's buffer must outlast",
                 &violations);
  }
  if (!(arm.silence_s() >= kLeastSilence_s && arm.silence_s() <= kGreatestSilence_s)) {
    AddViolation("silence_s",
                 absl::StrCat(arm.silence_s()),
                 "must be 0.2 to 10 s, or 0 for 0.5 s",
                 "give the time after which a controller that is not heard is led to rest",
                 &violations);
  }
  return violations;
}

std::vector<v1::FieldViolation> CheckRateForGaits(double sample_rate_hz,
                                                  const std::vector<PlayableGait>& gaits) {
  double least_hz = 0.0;
  for (const PlayableGait& gait : gaits) {
    least_hz = std::max(least_hz, gait.least_sample_rate_hz);
  }
  Violations violations;
  CheckSampleRateFor(sample_rate_hz, least_hz, &violations);
  return violations;
}

std::vector<v1::FieldViolation> CheckSwitch(const v1::SwitchGait& command) {
  Violations violations;
  if (command.has_phase_ratio() && !(command.phase_ratio() >= 0.0 && command.phase_ratio() < 1.0)) {
    AddViolation("phase_ratio",
                 absl::StrCat(command.phase_ratio()),
                 "must be 0 (closed) to 1 (open)",
                 "leave it out to switch where the legs are closest",
                 &violations);
  }
  return violations;
}

std::vector<v1::FieldViolation> CheckChange(const v1::ChangeRate& command,
                                            const std::vector<PlayableGait>& gaits) {
  Violations violations;
  const double pace = command.pace_ratio();
  if (!(pace == 0.0 || (pace >= kLeastPaceRatio && pace <= 1.0))) {
    AddViolation("pace_ratio",
                 absl::StrCat(pace),
                 "must be 0.05 to 1, or 0 to leave it: a gait is not played faster than planned",
                 "switch to a gait of a higher stride frequency to go faster",
                 &violations);
  }
  if (command.sample_rate_hz() != 0.0) {
    CheckSampleRate(command.sample_rate_hz(), &violations);
    if (violations.empty()) {
      return CheckRateForGaits(command.sample_rate_hz(), gaits);
    }
  }
  return violations;
}

}  // namespace gaitshelf::service
