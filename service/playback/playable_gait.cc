#include "service/playback/playable_gait.h"

#include <cstddef>
#include <limits>
#include <utility>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "service/playback/sampling.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Phases that are compared: a sixty-fourth of a cycle is nearer than the knots of most gaits.
constexpr int kPhaseCount = 64;

}  // namespace

absl::StatusOr<PlayableGait> MakePlayable(const v1::Gait& gait, const v1::Robot& robot) {
  if (gait.leg_names_size() != robot.legs_size()) {
    return absl::FailedPreconditionError(absl::StrCat("gait ",
                                                      gait.name(),
                                                      " has ",
                                                      gait.leg_names_size(),
                                                      " legs, robot ",
                                                      robot.name(),
                                                      " has ",
                                                      robot.legs_size()));
  }
  GAITSHELF_ASSIGN_OR_RETURN(GaitCurve curve, GaitCurve::Create(gait));
  std::vector<LegBounds> bounds = curve.Bounds();
  return PlayableGait{.name = gait.name(),
                      .is_periodic = gait.is_periodic(),
                      .leg_names = {gait.leg_names().begin(), gait.leg_names().end()},
                      .foot_names = {gait.foot_names().begin(), gait.foot_names().end()},
                      .curve = std::move(curve),
                      .bounds = std::move(bounds),
                      .least_sample_rate_hz = LeastSampleRateHz(gait)};
}

double ClosestPhase(const PlayableGait& from, const PlayableGait& to) {
  double closest_ratio = 0.0;
  double least_m2 = std::numeric_limits<double>::infinity();
  CurvePoint here;
  CurvePoint there;
  for (int i = 0; i < kPhaseCount; ++i) {
    const double phase_ratio = static_cast<double>(i) / kPhaseCount;
    from.curve.Evaluate(phase_ratio * from.curve.cycle_s(), &here);
    to.curve.Evaluate(phase_ratio * to.curve.cycle_s(), &there);
    double sum_m2 = 0.0;
    for (std::size_t k = 0; k < here.leg_position_m.size(); ++k) {
      const double apart_m = here.leg_position_m[k] - there.leg_position_m[k];
      sum_m2 += apart_m * apart_m;
    }
    if (sum_m2 < least_m2) {
      least_m2 = sum_m2;
      closest_ratio = phase_ratio;
    }
  }
  return closest_ratio;
}

}  // namespace gaitshelf::service
