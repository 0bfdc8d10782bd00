#include "solver/plan/gait_cycle.h"

#include <algorithm>
#include <cmath>
#include <string>

#include <Eigen/Geometry>

#include "absl/strings/str_cat.h"
#include "solver/leg/plane.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// The array row by row as columns; empty when it has another size.
MatrixXd Columns(const google::protobuf::RepeatedField<double>& array, Index rows, Index knots) {
  return array.size() == rows * knots
             ? MatrixXd(Eigen::Map<const MatrixXd>(array.data(), rows, knots))
             : MatrixXd();
}

}  // namespace

absl::StatusOr<GaitCycle> GaitCycle::Create(const v1::Gait& gait, const RobotModel& model) {
  const Index knots = gait.knot_count();
  const Index drives = model.drive_count();
  const MatrixXd body = Columns(gait.body_position_m(), 3, knots);
  const MatrixXd attitude = Columns(gait.body_attitude_rad(), 3, knots);
  const MatrixXd legs = Columns(gait.leg_position_m(), drives, knots);
  const MatrixXd volts = Columns(gait.voltage_v(), drives, knots);
  const MatrixXd forces = Columns(gait.foot_force_n(), 3 * model.foot_count(), knots);
  if (knots < 1 || model.base_count() == 0 ||
      std::min({body.size(), attitude.size(), legs.size(), volts.size(), forces.size()}) == 0) {
    return absl::InvalidArgumentError(
        absl::StrCat("gait ", gait.name(), " has arrays that do not fit robot and knot_count"));
  }
  GaitCycle cycle;
  const double length_m = model.scale().length_m;
  cycle.knot_period_ = gait.knot_period_s() / model.scale().time_s;
  cycle.motion_ = {gait.advance_m() / length_m, gait.sidestep_m() / length_m, gait.turn_rad()};
  cycle.coordinates_.resize(model.coordinate_count(), knots);
  cycle.coordinates_ << body / length_m, attitude, legs / length_m;
  cycle.drives_.resize(drives, knots);
  for (Index d = 0; d < drives; ++d) {
    const Drive& drive = model.drives()[static_cast<size_t>(d)];
    cycle.drives_.row(d) = (volts.row(d).array() - drive.bias_v) / drive.half_range_v;
  }
  cycle.forces_ = forces / model.scale().force_n();
  for (Index k = 0; k < knots; ++k) {
    const double share = static_cast<double>(k) / static_cast<double>(knots);
    VectorXd q = cycle.coordinates_.col(k);
    const PlanarPose seen = cycle.motion_.Times(share).End().Inverse().Then(PlaneOf(q));
    SetPlane(seen, &q);
    cycle.coordinates_.col(k) = q;
    for (Index i = 0; i < model.foot_count(); ++i) {
      cycle.forces_.block<2, 1>(3 * i, k) =
          (Eigen::Rotation2Dd(-share * gait.turn_rad()) * cycle.forces_.block<2, 1>(3 * i, k))
              .eval();
    }
  }
  return cycle;
}

Index GaitCycle::KnotAt(double phase, double* share) const {
  // A phase that is a knot's but for rounding is the knot's.
  constexpr double kSameKnot = 1e-9;
  const double place = (phase - std::floor(phase)) * knot_count();
  const double nearest = std::round(place);
  const double knot = std::abs(place - nearest) < kSameKnot ? nearest : std::floor(place);
  *share = std::max(0.0, place - knot);
  *share = *share < kSameKnot ? 0.0 : *share;
  return static_cast<Index>(knot) % knot_count();
}

VectorXd GaitCycle::Relative(double phase) const {
  double s = 0.0;
  const Index n = knot_count();
  const Index k = KnotAt(phase, &s);
  if (s == 0.0) {
    return coordinates_.col(k);
  }
  const auto before = coordinates_.col((k + n - 1) % n), start = coordinates_.col(k);
  const auto end = coordinates_.col((k + 1) % n), after = coordinates_.col((k + 2) % n);
  const double s2 = s * s;
  const double s3 = s2 * s;
  return (2.0 * s3 - 3.0 * s2 + 1.0) * start + (3.0 * s2 - 2.0 * s3) * end +
         (s3 - 2.0 * s2 + s) * 0.5 * (end - before) + (s3 - s2) * 0.5 * (after - start);
}

VectorXd GaitCycle::Drives(double phase) const {
  double s = 0.0;
  return drives_.col(KnotAt(phase, &s));
}

VectorXd GaitCycle::FootForces(double phase) const {
  double s = 0.0;
  return forces_.col(KnotAt(phase, &s));
}

}  // namespace gaitshelf::solver
