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

v1::FieldViolation Violation(const std::string& field,
                             const std::string& value,
                             const std::string& problem,
                             const std::string& mend) {
  v1::FieldViolation violation;
  violation.set_field(field);
  violation.set_value(value);
  violation.set_problem(problem);
  violation.set_mend(mend);
  return violation;
}

double RateOf(const v1::StreamSetpointsRequest& request) {
  return request.sample_rate_hz() == 0.0 ? kDefaultSampleRateHz : request.sample_rate_hz();
}

}  // namespace

std::vector<v1::FieldViolation> CheckStream(const v1::StreamSetpointsRequest& request) {
  std::vector<v1::FieldViolation> violations;
  if (request.gait().empty()) {
    violations.push_back(Violation("gait", "missing", "must name a gait", "give a gait's name"));
  }
  const double rate_hz = RateOf(request);
  // Written so that a value that is no number fails too.
  if (!(rate_hz >= kLeastSampleRateHz && rate_hz <= kGreatestSampleRateHz)) {
    violations.push_back(Violation("sample_rate_hz",
                                   absl::StrCat(rate_hz),
                                   "must be 10 to 20000 Hz, or 0 for 1000 Hz",
                                   "give the rate of the control loop in Hz"));
  }
  const double duration_s = request.duration_s();
  if (!(duration_s > 0.0 && duration_s <= kLongestStream_s)) {
    violations.push_back(Violation("duration_s",
                                   duration_s == 0.0 ? "missing" : absl::StrCat(duration_s),
                                   "must be more than 0 and at most 86400 s",
                                   "give the length of the stream in seconds"));
  }
  if (request.armed_by().size() > kLongestName) {
    violations.push_back(Violation("armed_by",
                                   absl::StrCat(request.armed_by().size(), " characters"),
                                   "must have 1 to 63 characters",
                                   "shorten the name"));
  }
  if (request.is_unpaced() && !request.is_preview()) {
    violations.push_back(Violation("is_unpaced",
                                   "true",
                                   "is only for a preview: a drive needs its samples at their pace",
                                   "set is_preview as well, or leave is_unpaced out"));
  }
  const int bits = request.drive_bits();
  if (bits != 0 && (bits < kFewestDriveBits || bits > kMostDriveBits)) {
    violations.push_back(Violation("drive_bits",
                                   absl::StrCat(bits),
                                   "must be 8 to 24, or 0 for no rounding",
                                   "give the bits of the drive stage's converter"));
  }
  return violations;
}

std::vector<v1::FieldViolation> CheckStreamFor(const v1::StreamSetpointsRequest& request,
                                               const v1::Gait& gait) {
  const double least_hz = LeastSampleRateHz(gait);
  const double rate_hz = RateOf(request);
  if (rate_hz > least_hz) {
    return {};
  }
  const double content_hz = 0.5 * least_hz;
  return {Violation(
      "sample_rate_hz",
      absl::StrCat(rate_hz),
      absl::StrFormat("must be more than %.6g Hz, twice the highest content of this gait: its "
                      "motion at %.6g Hz would show as %.6g Hz",
                      least_hz,
                      content_hz,
                      AliasHz(content_hz, rate_hz)),
      absl::StrFormat("ask for %.6g Hz or more",
                      std::min(std::ceil(2.0 * least_hz), kGreatestSampleRateHz)))};
}

}  // namespace gaitshelf::service
