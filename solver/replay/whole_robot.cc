#include "solver/replay/whole_robot.h"

#include <algorithm>
#include <utility>

#include <Eigen/Geometry>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "solver/mechanism/closure.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Matrix3d;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;
using Matrix6d = Eigen::Matrix<double, 6, 6>;

template <typename Numbers>
Vector3d ToVector(const Numbers& numbers) {
  return Eigen::Map<const Vector3d>(numbers.data());
}

Matrix3d Skew(const Vector3d& a) {
  return (Matrix3d() << 0.0, -a[2], a[1], a[2], 0.0, -a[0], -a[1], a[0], 0.0).finished();
}

// The same linkage in the units of the scale.
Linkage Scaled(Linkage linkage, const Scale& scale) {
  const double torque = scale.force_n() * scale.length_m;
  for (LinkageLink& link : linkage.links) {
    link.point /= scale.length_m;
    link.center /= scale.length_m;
    link.mass /= scale.mass_kg;
    link.inertia /= scale.inertia_kg_m2();
    link.stiffness /= torque;
    link.damping /= torque * scale.time_s;
  }
  for (LoopHinge& loop : linkage.loops) {
    loop.point /= scale.length_m;
    loop.stiffness /= torque;
    loop.damping /= torque * scale.time_s;
  }
  for (LinkagePin& pin : linkage.pins) {
    pin.point /= scale.length_m;
    pin.stiffness /= scale.stiffness_n_per_m();
    pin.mass /= scale.mass_kg;
  }
  linkage.foot /= scale.length_m;
  return linkage;
}

// Potential of the stops of a coordinate with its first and second derivative.
std::array<double, 3> Stops(const StoppedTravel& travel, double y) {
  const std::array<double, 3> above =
      StopPotential(y - travel.upper, travel.stiffness, travel.width());
  const std::array<double, 3> below =
      StopPotential(travel.lower - y, travel.stiffness, travel.width());
  return {above[0] + below[0], above[1] - below[1], above[2] + below[2]};
}

Index Independent(const WholeLeg& leg, Index coordinate) {
  return leg.dynamics.linkage().independent[static_cast<size_t>(coordinate)];
}

}  // namespace

bool WholeRobot::Fits(const v1::Robot& robot) {
  return robot.body().support() != v1::BODY_SUPPORT_CLAMPED && robot.legs_size() > 0 &&
         std::all_of(robot.legs().begin(), robot.legs().end(), [](const v1::Leg& leg) {
           return leg.has_linkage();
         });
}

absl::StatusOr<WholeRobot> WholeRobot::Create(const v1::Robot& robot, const RobotModel& outline) {
  if (!Fits(robot)) {
    return absl::InvalidArgumentError(
        "robot: the whole mechanism needs a free body and linkages for all legs");
  }
  const Scale& scale = outline.scale();
  const v1::Body& body = robot.body();
  WholeRobot result;
  result.body_mass_ = body.mass_kg() / scale.mass_kg;
  Vector3d center = Vector3d::Zero();
  if (body.center_of_mass_m_size() == 3) {
    center = ToVector(body.center_of_mass_m()) / scale.length_m;
  }
  result.body_first_moment_ = result.body_mass_ * center;
  result.body_inertia_ = (ToVector(body.inertia_kg_m2()) / scale.inertia_kg_m2()).asDiagonal();
  result.body_inertia_ -= result.body_mass_ * Skew(center) * Skew(center);
  result.friction_ = outline.friction();
  result.gravity_ = outline.gravity();
  result.drives_ = outline.drives();
  result.total_mass_ = result.body_mass_;
  for (const v1::Leg& leg : robot.legs()) {
    GAITSHELF_RETURN_IF_ERROR(result.AppendLeg(leg, scale));
  }
  for (const v1::BodyFoot& foot : robot.body_feet()) {
    result.body_feet_.emplace_back(ToVector(foot.point_m()) / scale.length_m);
  }
  return result;
}

absl::Status WholeRobot::AppendLeg(const v1::Leg& leg, const Scale& scale) {
  GAITSHELF_ASSIGN_OR_RETURN(LegLinkage description, ReadLegLinkage(leg.linkage()));
  const LoopClosure closure(&description.linkage);
  ClosedPosture rest;
  GAITSHELF_RETURN_IF_ERROR(closure.Start(&rest));
  const FootRates rates = MeasureFootRates(description, rest);
  WholeLeg result = {.name = leg.name(),
                     .description = description,
                     .dynamics = LinkageDynamics(Scaled(description.linkage, scale)),
                     .length_per_rad = rates.rad_per_m.cwiseInverse() / scale.length_m,
                     .travels = {},
                     .first = coordinate_count_};
  for (Index i = 0; i < 2; ++i) {
    const double a = description.lower_rad[i] * result.length_per_rad[i];
    const double b = description.upper_rad[i] * result.length_per_rad[i];
    result.travels[static_cast<size_t>(i)] = {
        std::min(a, b), std::max(a, b), description.stop_stiffness[i] / scale.stiffness_n_per_m()};
  }
  coordinate_count_ += description.linkage.angle_count();
  loop_equation_count_ += description.linkage.loop_equation_count();
  total_mass_ += result.dynamics.mass();
  legs_.push_back(std::move(result));
  return absl::OkStatus();
}

absl::StatusOr<VectorXd> WholeRobot::Close(const VectorXd& outline_position) const {
  constexpr int kStepCount = 8;
  VectorXd q = VectorXd::Zero(coordinate_count_);
  q.head<6>() = outline_position.head<6>();
  for (size_t i = 0; i < legs_.size(); ++i) {
    const WholeLeg& leg = legs_[i];
    const LoopClosure closure(&leg.dynamics.linkage());
    ClosedPosture posture;
    GAITSHELF_RETURN_IF_ERROR(closure.Start(&posture));
    const Eigen::Vector2d angles = outline_position.segment<2>(6 + 2 * static_cast<Index>(i))
                                       .cwiseQuotient(leg.length_per_rad);
    if (absl::Status moved = closure.Walk(angles, kStepCount, &posture); !moved.ok()) {
      return absl::OutOfRangeError(absl::StrCat("leg ",
                                                leg.name,
                                                " cannot go to lift ",
                                                angles[0],
                                                " rad and swing ",
                                                angles[1],
                                                " rad: ",
                                                moved.message()));
    }
    q.segment(leg.first, posture.angles.size()) = posture.angles;
  }
  return q;
}

VectorXd WholeRobot::CloseRates(const VectorXd& q, const VectorXd& outline_velocity) const {
  WholePlace place;
  EvaluatePlace(q, &place);
  VectorXd residual;
  std::vector<MatrixXd> jacobian;
  EvaluateLoops(place, &residual, &jacobian);
  VectorXd v = VectorXd::Zero(coordinate_count_);
  v.head<6>() = outline_velocity.head<6>();
  for (size_t i = 0; i < legs_.size(); ++i) {
    const WholeLeg& leg = legs_[i];
    const Index n = leg.dynamics.linkage().angle_count();
    const Index loops = jacobian[i].rows();
    // The loop equations, and two rows that set the independent rates.
    MatrixXd rows = MatrixXd::Zero(loops + 2, n);
    VectorXd right = VectorXd::Zero(loops + 2);
    rows.topRows(loops) = jacobian[i];
    for (Index c = 0; c < 2; ++c) {
      rows(loops + c, Independent(leg, c)) = leg.length_per_rad[c];
      right[loops + c] = outline_velocity[6 + 2 * static_cast<Index>(i) + c];
    }
    v.segment(leg.first, n) = rows.partialPivLu().solve(right);
  }
  return v;
}

VectorXd WholeRobot::Outline(const VectorXd& q) const {
  VectorXd outline(6 + 2 * static_cast<Index>(legs_.size()));
  outline.head<6>() = q.head<6>();
  for (size_t i = 0; i < legs_.size(); ++i) {
    for (Index c = 0; c < 2; ++c) {
      outline[6 + 2 * static_cast<Index>(i) + c] =
          legs_[i].length_per_rad[c] * q[legs_[i].first + Independent(legs_[i], c)];
    }
  }
  return outline;
}

void WholeRobot::EvaluatePlace(const VectorXd& q, WholePlace* place) const {
  EvaluateAttitude(q.segment<3>(3), AttitudeOrder::kFirst, &place->attitude);
  place->origin = q.head<3>();
  place->legs.resize(legs_.size());
  for (size_t i = 0; i < legs_.size(); ++i) {
    const Linkage& linkage = legs_[i].dynamics.linkage();
    EvaluatePose(linkage, q.segment(legs_[i].first, linkage.angle_count()), &place->legs[i]);
  }
}

void WholeRobot::EvaluateTerms(const WholePlace& place,
                               const VectorXd& q,
                               const VectorXd& v,
                               WholeTerms* terms) const {
  terms->momentum.resize(coordinate_count_);
  terms->force.resize(coordinate_count_);
  const Attitude& attitude = place.attitude;
  const Vector3d turn_rates = v.segment<3>(3);
  BodyMotion motion;
  motion.angular = attitude.rates * turn_rates;
  motion.linear = attitude.rotation.transpose() * v.head<3>();
  motion.gravity = attitude.rotation.transpose() * gravity_;
  Vector3d angular = body_inertia_ * motion.angular + body_first_moment_.cross(motion.linear);
  Vector3d linear = body_mass_ * motion.linear - body_first_moment_.cross(motion.angular);
  Vector3d first_moment = body_first_moment_;
  for (size_t i = 0; i < legs_.size(); ++i) {
    const WholeLeg& leg = legs_[i];
    const Index n = leg.dynamics.linkage().angle_count();
    const auto angles = q.segment(leg.first, n);
    leg.dynamics.EvaluateTerms(place.legs[i], angles, v.segment(leg.first, n), motion, &terms->leg);
    terms->momentum.segment(leg.first, n) = terms->leg.momentum;
    terms->force.segment(leg.first, n) = terms->leg.force;
    angular += terms->leg.angular_momentum;
    linear += terms->leg.linear_momentum;
    first_moment += terms->leg.first_moment;
    for (Index c = 0; c < 2; ++c) {
      const Index at = Independent(leg, c);
      const double rate = leg.length_per_rad[c];
      terms->force[leg.first + at] -=
          rate * Stops(leg.travels[static_cast<size_t>(c)], rate * angles[at])[1];
    }
  }
  terms->momentum.head<3>() = attitude.rotation * linear;
  terms->momentum.segment<3>(3) = attitude.rates.transpose() * angular;
  terms->force.head<3>() = total_mass_ * gravity_;
  for (size_t i = 0; i < 3; ++i) {
    const Matrix3d& turned = attitude.rotation_d[i];
    terms->force[3 + static_cast<Index>(i)] = angular.dot(attitude.rates_d[i] * turn_rates) +
                                              linear.dot(turned.transpose() * v.head<3>()) +
                                              gravity_.dot(turned * first_moment);
  }
}

void WholeRobot::EvaluateLoops(const WholePlace& place,
                               VectorXd* residual,
                               std::vector<MatrixXd>* jacobian) const {
  residual->resize(loop_equation_count_);
  jacobian->resize(legs_.size());
  VectorXd own;
  Index row = 0;
  for (size_t i = 0; i < legs_.size(); ++i) {
    ::gaitshelf::solver::EvaluateLoops(
        legs_[i].dynamics.linkage(), place.legs[i], &own, &(*jacobian)[i]);
    residual->segment(row, own.size()) = own;
    row += own.size();
  }
}

void WholeRobot::EvaluateFoot(const WholePlace& place,
                              Index foot,
                              Vector3d* position,
                              Eigen::Ref<MatrixXd> jacobian) const {
  jacobian.setZero();
  Vector3d point;
  if (foot < static_cast<Index>(legs_.size())) {
    const WholeLeg& leg = legs_[static_cast<size_t>(foot)];
    const LinkagePose& pose = place.legs[static_cast<size_t>(foot)];
    const Linkage& linkage = leg.dynamics.linkage();
    Eigen::Matrix3Xd by_angles;
    PointJacobian(linkage, pose, linkage.foot_link, linkage.foot, &by_angles);
    jacobian.middleCols(leg.first, by_angles.cols()) = place.attitude.rotation * by_angles;
    point = pose.Place(linkage.foot_link, linkage.foot);
  } else {
    point = body_feet_[static_cast<size_t>(foot) - legs_.size()];
  }
  *position = place.origin + place.attitude.rotation * point;
  jacobian.leftCols<3>().setIdentity();
  for (Index i = 0; i < 3; ++i) {
    jacobian.col(3 + i) = place.attitude.rotation_d[static_cast<size_t>(i)] * point;
  }
}

void WholeRobot::DriveForce(const WholePlace& place, const VectorXd& u, VectorXd* force) const {
  force->setZero(coordinate_count_);
  Eigen::RowVectorXd slope;
  for (size_t i = 0; i < legs_.size(); ++i) {
    const LinkageDynamics& dynamics = legs_[i].dynamics;
    for (size_t pin = 0; pin < dynamics.linkage().pins.size(); ++pin) {
      const size_t drive = 2 * i + pin;
      if (dynamics.linkage().pins[pin].is_present) {
        dynamics.PinTravelJacobian(place.legs[i], pin, &slope);
        force->segment(legs_[i].first, slope.size()) +=
            drives_[drive].half_force * u[static_cast<Index>(drive)] * slope.transpose();
      }
    }
  }
}

void WholeRobot::EvaluateImpedance(const WholePlace& place,
                                   const VectorXd& q,
                                   double h,
                                   ArrowBlocks* impedance) const {
  const double r = 1.0 / (h * h);
  // Twist of the body per rate of its coordinates.
  Matrix6d twist = Matrix6d::Zero();
  twist.topRightCorner<3, 3>() = place.attitude.rates;
  twist.bottomLeftCorner<3, 3>() = place.attitude.rotation.transpose();
  Matrix3d inertia = body_inertia_;
  Vector3d first_moment = body_first_moment_;
  impedance->legs.resize(legs_.size());
  LinkageInertia own;
  Index first_loop = 0;
  for (size_t i = 0; i < legs_.size(); ++i) {
    const WholeLeg& leg = legs_[i];
    ArrowLeg& to = impedance->legs[i];
    leg.dynamics.EvaluateInertia(place.legs[i], &own);
    inertia += own.inertia;
    first_moment += own.first_moment;
    to.first = leg.first;
    to.first_loop = first_loop;
    to.own = r * own.mass + 0.5 / h * leg.dynamics.damping() + 0.25 * own.stiffness;
    to.coupling = r * twist.transpose() * own.coupling;
    for (Index c = 0; c < 2; ++c) {
      const Index at = Independent(leg, c);
      const double rate = leg.length_per_rad[c];
      to.own(at, at) += 0.25 * rate * rate *
                        Stops(leg.travels[static_cast<size_t>(c)], rate * q[leg.first + at])[2];
    }
    first_loop += leg.dynamics.linkage().loop_equation_count();
  }
  Matrix6d mass;
  mass << inertia, Skew(first_moment), -Skew(first_moment), total_mass_ * Matrix3d::Identity();
  impedance->body = r * twist.transpose() * mass * twist;
}

double WholeRobot::Energy(const VectorXd& q, const VectorXd& v) const {
  WholePlace place;
  EvaluatePlace(q, &place);
  WholeTerms terms;
  EvaluateTerms(place, q, v, &terms);
  // The kinetic energy is quadratic in v: 1/2 v . dT/dv.
  double energy = 0.5 * terms.momentum.dot(v);
  Vector3d moment = body_first_moment_;
  for (size_t i = 0; i < legs_.size(); ++i) {
    const WholeLeg& leg = legs_[i];
    const Linkage& linkage = leg.dynamics.linkage();
    const auto angles = q.segment(leg.first, linkage.angle_count());
    energy += leg.dynamics.SpringEnergy(place.legs[i], angles);
    for (size_t k = 0; k < linkage.links.size(); ++k) {
      moment +=
          linkage.links[k].mass * place.legs[i].Place(static_cast<int>(k), linkage.links[k].center);
    }
    for (Index c = 0; c < 2; ++c) {
      energy += Stops(leg.travels[static_cast<size_t>(c)],
                      leg.length_per_rad[c] * angles[Independent(leg, c)])[0];
    }
  }
  return energy - gravity_.dot(total_mass_ * place.origin + place.attitude.rotation * moment);
}

double WholeRobot::DampingPower(const VectorXd& v) const {
  double power = 0.0;
  for (const WholeLeg& leg : legs_) {
    const auto rates = v.segment(leg.first, leg.dynamics.linkage().angle_count());
    power += rates.dot(leg.dynamics.damping() * rates);
  }
  return power;
}

}  // namespace gaitshelf::solver
