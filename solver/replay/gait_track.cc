#include "solver/replay/gait_track.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Geometry>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/leg/plane.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Reads an array of rows x columns, row by row, as columns x rows; adds a line to faults when it
// has another size or a bad number.
MatrixXd ReadRows(const google::protobuf::RepeatedField<double>& field,
                  const std::string& name,
                  Index rows,
                  Index columns,
                  std::vector<std::string>* faults) {
  if (field.size() != rows * columns) {
    faults->push_back(absl::StrCat(name,
                                   " has ",
                                   field.size(),
                                   " numbers; it must have ",
                                   rows * columns,
                                   ", ",
                                   columns,
                                   " for each of the ",
                                   rows,
                                   " knots"));
    return MatrixXd::Zero(columns, rows);
  }
  MatrixXd values = Eigen::Map<const MatrixXd>(field.data(), columns, rows);
  if (!values.allFinite()) {
    faults->push_back(absl::StrCat(name, " holds a number that is not finite"));
  }
  return values;
}

}  // namespace

absl::StatusOr<GaitTrack> GaitTrack::Create(const v1::Gait& gait, const RobotModel& model) {
  std::vector<std::string> faults;
  const Index n = gait.knot_count();
  if (n < 4) {
    faults.push_back(absl::StrCat("knot_count is ", n, "; it must be at least 4"));
  }
  if (!(gait.knot_period_s() > 0.0) || !std::isfinite(gait.knot_period_s())) {
    faults.push_back(absl::StrCat(
        "knot_period_s is ", gait.knot_period_s(), "; it must be more than 0 and finite"));
  }
  for (const auto& [name, value] : {std::pair("advance_m", gait.advance_m()),
                                    std::pair("sidestep_m", gait.sidestep_m()),
                                    std::pair("turn_rad", gait.turn_rad())}) {
    if (!std::isfinite(value)) {
      faults.push_back(absl::StrCat(name, " is ", value, "; it must be finite"));
    }
  }
  const Scale& scale = model.scale();
  const Index drives = model.drive_count();
  const MatrixXd body = ReadRows(gait.body_position_m(), "body_position_m", n, 3, &faults);
  const MatrixXd turn = ReadRows(gait.body_attitude_rad(), "body_attitude_rad", n, 3, &faults);
  const MatrixXd legs = ReadRows(gait.leg_position_m(), "leg_position_m", n, drives, &faults);
  GaitTrack track;
  track.voltages_ = ReadRows(gait.voltage_v(), "voltage_v", n, drives, &faults);
  track.forces_ =
      ReadRows(gait.foot_force_n(), "foot_force_n", n, 3 * model.foot_count(), &faults) /
      scale.force_n();
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  track.knot_period_ = gait.knot_period_s() / scale.time_s;
  track.is_periodic_ = gait.is_periodic();
  track.goes_on_ = gait.task().has_transition();
  track.motion_ = {
      gait.advance_m() / scale.length_m, gait.sidestep_m() / scale.length_m, gait.turn_rad()};
  track.base_count_ = model.base_count();
  track.positions_.resize(model.coordinate_count(), n);
  if (model.base_count() > 0) {
    track.positions_.topRows(3) = body / scale.length_m;
    track.positions_.middleRows(3, 3) = turn;
  }
  track.positions_.bottomRows(drives) = legs / scale.length_m;
  track.drives_.resize(drives, n);
  for (Index i = 0; i < drives; ++i) {
    const Drive& drive = model.drives()[static_cast<size_t>(i)];
    track.drives_.row(i) = (track.voltages_.row(i).array() - drive.bias_v) / drive.half_range_v;
  }
  return track;
}

double GaitTrack::duration() const {
  return knot_period_ * static_cast<double>(is_periodic_ ? knot_count() : knot_count() - 1);
}

Index GaitTrack::Wrap(Index knot, Index* cycles) const {
  const Index n = knot_count();
  if (!is_periodic_) {
    *cycles = 0;
    return std::clamp<Index>(knot, 0, n - 1);
  }
  *cycles = knot >= 0 ? knot / n : -((n - 1 - knot) / n);
  return knot - *cycles * n;
}

VectorXd GaitTrack::Position(Index knot) const {
  Index cycles = 0;
  VectorXd position = positions_.col(Wrap(knot, &cycles));
  if (base_count_ > 0) {
    MoveOn(motion_.Times(static_cast<double>(cycles)), &position);
  }
  return position;
}

VectorXd GaitTrack::Drives(Index knot) const {
  Index cycles = 0;
  return drives_.col(Wrap(knot, &cycles));
}

VectorXd GaitTrack::FootForces(Index knot) const {
  Index cycles = 0;
  VectorXd forces = forces_.col(Wrap(knot, &cycles));
  const double turn = static_cast<double>(cycles) * motion_.turn;
  for (Index i = 0; turn != 0.0 && i + 2 < forces.size(); i += 3) {
    forces.segment<2>(i) = Eigen::Rotation2Dd(turn) * forces.segment<2>(i);
  }
  return forces;
}

Index GaitTrack::Locate(double time, double* fraction) const {
  const double place = time / knot_period_;
  const double knot = std::floor(place);
  *fraction = place - knot;
  return static_cast<Index>(knot);
}

void GaitTrack::LegTarget(double time, VectorXd* position, VectorXd* rate) const {
  double s = 0.0;
  const Index knot = Locate(time, &s);
  const Index legs = positions_.rows() - base_count_;
  VectorXd before = Position(knot - 1).tail(legs);
  const VectorXd start = Position(knot).tail(legs), end = Position(knot + 1).tail(legs);
  VectorXd after = Position(knot + 2).tail(legs);
  if (goes_on_ && knot <= 0) {
    before = 2.0 * start - end;
  }
  if (goes_on_ && knot + 2 >= knot_count()) {
    after = 2.0 * end - start;
  }
  const VectorXd start_slope = 0.5 * (end - before), end_slope = 0.5 * (after - start);
  const double s2 = s * s, s3 = s2 * s;
  *position = (2.0 * s3 - 3.0 * s2 + 1.0) * start + (s3 - 2.0 * s2 + s) * start_slope +
              (3.0 * s2 - 2.0 * s3) * end + (s3 - s2) * end_slope;
  *rate = ((6.0 * s2 - 6.0 * s) * (start - end) + (3.0 * s2 - 4.0 * s + 1.0) * start_slope +
           (3.0 * s2 - 2.0 * s) * end_slope) /
          knot_period_;
}

VectorXd GaitTrack::Voltage(double time) const {
  double s = 0.0;
  const Index knot = Locate(time, &s);
  Index cycles = 0;
  return (1.0 - s) * voltages_.col(Wrap(knot, &cycles)) +
         s * voltages_.col(Wrap(knot + 1, &cycles));
}

bool GaitTrack::IsLoaded(double time, Index foot, double threshold) const {
  double s = 0.0;
  Index cycles = 0;
  return forces_(3 * foot + 2, Wrap(Locate(time, &s), &cycles)) > threshold;
}

}  // namespace gaitshelf::solver
