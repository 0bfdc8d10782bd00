// Checks of the commands of a session. Every fault is reported, not the first only.
#ifndef GAITSHELF_SERVICE_PLAYBACK_CHECK_SESSION_H_
#define GAITSHELF_SERVICE_PLAYBACK_CHECK_SESSION_H_

#include <vector>

#include "gaitshelf/v1/check.pb.h"
#include "gaitshelf/v1/playback_service.pb.h"

#include "service/playback/playable_gait.h"

namespace gaitshelf::service {

// Fills in what the command leaves to the server.
void SetDefaults(v1::ArmSession* arm);

// Checks what can be said without the gaits. The defaults are set. Who armed, and the drive's name,
// are only checked for their length: that they are missing is another error.
std::vector<v1::FieldViolation> CheckArm(const v1::ArmSession& arm);

// Checks that the rate is high enough for every gait.
std::vector<v1::FieldViolation> CheckRateForGaits(double sample_rate_hz,
                                                  const std::vector<PlayableGait>& gaits);

// Checks a switch but for its gait, and a change of rate.
std::vector<v1::FieldViolation> CheckSwitch(const v1::SwitchGait& command);
std::vector<v1::FieldViolation> CheckChange(const v1::ChangeRate& command,
                                            const std::vector<PlayableGait>& gaits);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_CHECK_SESSION_H_
