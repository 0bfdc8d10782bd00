#include "service/playback/sample_cycle.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "service/playback/check_stream.h"
#include "service/playback/gait_curve.h"
#include "service/playback/sampling.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr int kFewestSamples = 8;
// Keeps the answer of a robot with many legs below the 4 MB that gRPC takes by default.
constexpr int kMostSamples = 4096;

// Duration of a cycle, or of a whole hop, s.
double SpanOf(const v1::Gait& gait) {
  return gait.knot_period_s() * (gait.knot_count() - (gait.is_periodic() ? 0 : 1));
}

// Number of samples that are asked for; as a double, because a rate may ask for too many.
double CountOf(const v1::SampleGaitRequest& request, const v1::Gait& gait) {
  if (request.sample_count() != 0) {
    return request.sample_count();
  }
  // 1e-9: a cycle that holds a whole number of samples gets no further one by rounding.
  const double periods = std::ceil(SpanOf(gait) * request.sample_rate_hz() - 1e-9);
  return gait.is_periodic() ? periods : periods + 1.0;
}

}  // namespace

std::vector<v1::FieldViolation> CheckSampleGait(const v1::SampleGaitRequest& request) {
  Violations violations;
  if (request.gait().empty()) {
    AddViolation("gait", "missing", "must name a gait", "give a gait's name", &violations);
  }
  const bool has_rate = request.sample_rate_hz() != 0.0;
  if ((request.sample_count() != 0) == has_rate) {
    AddViolation("sample_count",
                 has_rate ? absl::StrCat(request.sample_count()) : "missing",
                 "must be given, or else sample_rate_hz, and not both",
                 "give one of them",
                 &violations);
  } else if (has_rate) {
    CheckSampleRate(request.sample_rate_hz(), &violations);
  } else if (request.sample_count() < kFewestSamples || request.sample_count() > kMostSamples) {
    AddViolation("sample_count",
                 absl::StrCat(request.sample_count()),
                 "must be 8 to 4096",
                 "give the length of the table",
                 &violations);
  }
  return violations;
}

std::vector<v1::FieldViolation> CheckSampleGaitFor(const v1::SampleGaitRequest& request,
                                                   const v1::Gait& gait) {
  Violations violations;
  const double count = CountOf(request, gait);
  const double span_s = SpanOf(gait);
  const double least_hz = LeastSampleRateHz(gait);
  const bool has_rate = request.sample_rate_hz() != 0.0;
  if (has_rate) {
    CheckSampleRateFor(request.sample_rate_hz(), least_hz, &violations);
    if (count < kFewestSamples || count > kMostSamples) {
      AddViolation("sample_rate_hz",
                   absl::StrCat(request.sample_rate_hz()),
                   absl::StrCat("gives ", count, " samples, and a table has 8 to 4096"),
                   absl::StrCat("ask for ",
                                std::ceil(kFewestSamples / span_s),
                                " to ",
                                std::floor((kMostSamples - 1) / span_s),
                                " Hz"),
                   &violations);
    }
  } else if (count <= least_hz * span_s) {
    AddViolation("sample_count",
                 absl::StrCat(count),
                 absl::StrCat("must be more than ",
                              std::floor(least_hz * span_s),
                              ", two samples for each period of the fastest motion of this gait"),
                 absl::StrCat("ask for ", std::ceil(2.0 * least_hz * span_s), " or more"),
                 &violations);
  }
  return violations;
}

absl::StatusOr<v1::SetpointBlock> SampleCycle(const v1::SampleGaitRequest& request,
                                              const v1::Gait& gait) {
  GAITSHELF_ASSIGN_OR_RETURN(const GaitCurve curve, GaitCurve::Create(gait));
  const int count = static_cast<int>(
      std::clamp(CountOf(request, gait), double{kFewestSamples}, double{kMostSamples}));
  v1::SetpointBlock block;
  block.set_sample_count(count);
  block.set_sample_period_s(curve.cycle_s() / (gait.is_periodic() ? count : count - 1));
  *block.mutable_leg_names() = gait.leg_names();
  *block.mutable_foot_names() = gait.foot_names();
  CurvePoint point;
  for (int sample = 0; sample < count; ++sample) {
    curve.Evaluate(sample * block.sample_period_s(), &point);
    block.add_phase_ratio(point.phase_ratio);
    block.mutable_leg_position_m()->Add(point.leg_position_m.begin(), point.leg_position_m.end());
    block.mutable_leg_rate_m_per_s()->Add(point.leg_rate_m_per_s.begin(),
                                          point.leg_rate_m_per_s.end());
    block.mutable_voltage_v()->Add(point.voltage_v.begin(), point.voltage_v.end());
    block.mutable_contact()->Add(point.contact.begin(), point.contact.end());
    block.mutable_body_position_m()->Add(point.body_position_m.begin(),
                                         point.body_position_m.end());
    block.mutable_body_attitude_rad()->Add(point.body_attitude_rad.begin(),
                                           point.body_attitude_rad.end());
  }
  return block;
}

}  // namespace gaitshelf::service
