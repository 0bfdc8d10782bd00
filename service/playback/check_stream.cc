#include "service/playback/check_stream.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "service/playback/sampling.h"

namespace gaitshelf::service {
namespace {

constexpr double kLeastSampleRateHz = 10.0;
constexpr double kGreatestSampleRateHz = 20000.0;
constexpr double kLongestStream_s = 86400.0;
constexpr int kFewestDriveBits = 8;
constexpr int kMostDriveBits = 24;
constexpr std::size_t kLongestName = 63;

double RateOf(const v1::StreamSetpointsRequest& request) {
  return request.sample_rate_hz() == 0.0 ? kDefaultSampleRateHz : request.sample_rate_hz();
}

}  // namespace

void AddViolation(const std::string& field,
                  const std::string& value,
                  const std::string& problem,
                  const std::string& mend,
                  Violations* violations) {
  v1::FieldViolation& violation = violations->emplace_back();
  violation.set_field(field);
  violation.set_value(value);
  violation.set_problem(problem);
  violation.set_mend(mend);
}

void CheckSampleRate(double sample_rate_hz, Violations* violations) {
  // Written so that a value that is no number fails too.
  if (!(sample_rate_hz >= kLeastSampleRateHz && sample_rate_hz <= kGreatestSampleRateHz)) {
    AddViolation("sample_rate_hz",
                 absl::StrCat(sample_rate_hz),
                 "must be 10 to 20000 Hz, or 0 for 1000 Hz",
                 "give the rate of the control loop in Hz",
                 violations);
  }
}

void CheckDriveBits(int drive_bits, Violations* violations) {
  if (drive_bits != 0 && (drive_bits < kFewestDriveBits || drive_bits > kMostDriveBits)) {
    AddViolation("drive_bits",
                 absl::StrCat(drive_bits),
                 "must be 8 to 24, or 0 for no rounding",
                 "give the bits of the drive stage's converter",
                 violations);
  }
}

void CheckName(const std::string& field, const std::string& name, Violations* violations) {
  if (name.size() > kLongestName) {
    AddViolation(field,
                 absl::StrCat(name.size(), " characters"),
                 "must have 1 to 63 characters",
                 "shorten the name",
                 violations);
  }
}

void CheckSampleRateFor(double sample_rate_hz, double least_hz, Violations* violations) {
  if (sample_rate_hz > least_hz) {
    return;
  }
  const double content_hz = 0.5 * least_hz;
  AddViolation(
      "sample_rate_hz",
      absl::StrCat(sample_rate_hz),
      absl::StrFormat("must be more than %.6g Hz, twice the highest content of this gait: its "
                      "motion at %.6g Hz would show as %.6g Hz",
                      least_hz,
                      content_hz,
                      AliasHz(content_hz, sample_rate_hz)),
      absl::StrFormat("ask for %.6g Hz or more",
                      std::min(std::ceil(2.0 * least_hz), kGreatestSampleRateHz)),
      violations);
}

std::vector<v1::FieldViolation> CheckStream(const v1::StreamSetpointsRequest& request) {
  Violations violations;
  if (request.gait().empty()) {
    AddViolation("gait", "missing", "must name a gait", "give a gait's name", &violations);
  }
  CheckSampleRate(RateOf(request), &violations);
  const double duration_s = request.duration_s();
  if (!(duration_s > 0.0 && duration_s <= kLongestStream_s)) {
    AddViolation("duration_s",
                 duration_s == 0.0 ? "missing" : absl::StrCat(duration_s),
                 "must be more than 0 and at most 86400 s",
                 "give the length of the stream in seconds",
                 &violations);
  }
  CheckName("armed_by", request.armed_by(), &violations);
  if (request.is_unpaced() && !request.is_preview()) {
    AddViolation("is_unpaced",
                 "true",
                 "is only for a preview: a drive needs its samples at their pace",
                 "set is_preview as well, or leave is_unpaced out",
                 &violations);
  }
  CheckDriveBits(request.drive_bits(), &violations);
  return violations;
}

std::vector<v1::FieldViolation> CheckStreamFor(const v1::StreamSetpointsRequest& request,
                                               const v1::Gait& gait) {
  Violations violations;
  CheckSampleRateFor(RateOf(request), LeastSampleRateHz(gait), &violations);
  return violations;
}

}  // namespace gaitshelf::service
