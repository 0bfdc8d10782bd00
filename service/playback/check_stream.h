// Checks of a request for a stream, and the rules that sessions share. Every fault is reported, not
// the first only.
#ifndef GAITSHELF_SERVICE_PLAYBACK_CHECK_STREAM_H_
#define GAITSHELF_SERVICE_PLAYBACK_CHECK_STREAM_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/check.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/playback_service.pb.h"

namespace gaitshelf::service {

// Rate of a request that names none, Hz.
inline constexpr double kDefaultSampleRateHz = 1000.0;

// Checks what can be said without the gait.
std::vector<v1::FieldViolation> CheckStream(const v1::StreamSetpointsRequest& request);
// Checks that the sample rate is high enough for the gait's leg trajectories.
std::vector<v1::FieldViolation> CheckStreamFor(const v1::StreamSetpointsRequest& request,
                                               const v1::Gait& gait);

// ---- Rules of streams and sessions. Each adds its fault, if there is one, to `violations`. ----

using Violations = std::vector<v1::FieldViolation>;

void AddViolation(const std::string& field,
                  const std::string& value,
                  const std::string& problem,
                  const std::string& mend,
                  Violations* violations);
void CheckSampleRate(double sample_rate_hz, Violations* violations);
void CheckDriveBits(int drive_bits, Violations* violations);
// A name of 1 to 63 characters; a missing one is another rule's.
void CheckName(const std::string& field, const std::string& name, Violations* violations);
// A rate must exceed twice the highest content of a gait.
//   least_hz   as by LeastSampleRateHz (sampling.h)
void CheckSampleRateFor(double sample_rate_hz, double least_hz, Violations* violations);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_CHECK_STREAM_H_
