#include "solver/leg/robot_model.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include <Eigen/Geometry>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "solver/leg/attitude.h"
#include "solver/leg/compile_leg.h"
#include "solver/leg/compiled_leg.h"
#include "solver/leg/lumped_leg.h"
#include "solver/robot/bimorph.h"
#include "solver/robot/leg_form.h"

namespace gaitshelf::solver {
namespace {

using F = LegFunction;
using Eigen::Index;
using Eigen::Matrix3d;
using Eigen::Vector3d;

template <typename Numbers>
Vector3d ToVector(const Numbers& numbers) {
  return Eigen::Map<const Vector3d>(numbers.data());
}

Vector3d FootOf(const LegValues& values) {
  return Eigen::Map<const Vector3d>(values.data() + F::kFoot);
}

Drive ReadDrive(const v1::Bimorph* given, const Scale& scale) {
  Drive drive;
  if (given == nullptr) {
    return drive;
  }
  const v1::Bimorph& bimorph = *given;
  drive.is_present = true;
  drive.half_range_v = 0.5 * (bimorph.max_v() - bimorph.min_v());
  drive.half_force = bimorph.gain_n_per_v() * drive.half_range_v / scale.force_n();
  drive.bias_v = bimorph.bias_v();
  drive.lower = (bimorph.min_v() - bimorph.bias_v()) / drive.half_range_v;
  drive.upper = (bimorph.max_v() - bimorph.bias_v()) / drive.half_range_v;
  drive.slew_v_per_s = bimorph.slew_v_per_s();
  drive.capacitance_f = bimorph.capacitance_f();
  return drive;
}

// The model reads arrays by fixed size; a description that was not checked must not get that far.
absl::Status CheckSizes(const v1::Robot& robot) {
  const auto fault = [](const std::string& field, int size) {
    return absl::InvalidArgumentError(
        absl::StrCat(field, " has ", size, " numbers; it must have 3"));
  };
  if (robot.body().inertia_kg_m2_size() != 3) {
    return fault("body.inertia_kg_m2", robot.body().inertia_kg_m2_size());
  }
  if (robot.body().center_of_mass_m_size() != 3 && robot.body().center_of_mass_m_size() != 0) {
    return fault("body.center_of_mass_m", robot.body().center_of_mass_m_size());
  }
  for (int i = 0; i < robot.legs_size(); ++i) {
    if (robot.legs(i).has_linkage()) {
      continue;  // its reader looks at the sizes
    }
    const std::string leg = absl::StrCat("legs[", i, "].lumped.");
    const v1::LumpedLeg& lumped = robot.legs(i).lumped();
    if (lumped.foot_m_size() != 3) {
      return fault(leg + "foot_m", lumped.foot_m_size());
    }
    if (lumped.lift().direction_ratio_size() != 3) {
      return fault(leg + "lift.direction_ratio", lumped.lift().direction_ratio_size());
    }
    if (lumped.swing().direction_ratio_size() != 3) {
      return fault(leg + "swing.direction_ratio", lumped.swing().direction_ratio_size());
    }
  }
  for (int i = 0; i < robot.body_feet_size(); ++i) {
    if (robot.body_feet(i).point_m_size() != 3) {
      return fault(absl::StrCat("body_feet[", i, "].point_m"), robot.body_feet(i).point_m_size());
    }
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<RobotModel> RobotModel::Create(const v1::Robot& described,
                                              const v1::Surface& surface,
                                              const Scale& scale,
                                              const v1::LegTables* leg_tables) {
  const v1::Robot robot = WithoutLayers(described);
  GAITSHELF_RETURN_IF_ERROR(CheckSizes(robot));
  v1::LegTables compiled;
  if (leg_tables == nullptr) {
    GAITSHELF_ASSIGN_OR_RETURN(compiled, CompileLegs(robot));
    leg_tables = &compiled;
  } else if (!TablesFit(*leg_tables, robot)) {
    return absl::InvalidArgumentError("the tables given are not of this robot's legs");
  }
  RobotModel model;
  const v1::Body& body = robot.body();
  model.is_clamped_ = body.support() == v1::BODY_SUPPORT_CLAMPED;
  model.clamp_height_ = body.clamp_height_m() / scale.length_m;
  model.body_mass_ = body.mass_kg() / scale.mass_kg;
  if (body.center_of_mass_m_size() == 3) {
    model.body_center_ = ToVector(body.center_of_mass_m()) / scale.length_m;
  }
  const Vector3d& c = model.body_center_;
  model.body_inertia_ = (ToVector(body.inertia_kg_m2()) / scale.inertia_kg_m2()).asDiagonal();
  model.body_inertia_ +=
      model.body_mass_ * (c.squaredNorm() * Matrix3d::Identity() - c * c.transpose());
  model.friction_ = surface.friction_coefficient();
  model.gravity_ = kGravityMPerS2 / scale.acceleration_m_per_s2() *
                   Vector3d(-std::sin(surface.slope_rad()), 0.0, -std::cos(surface.slope_rad()));
  model.scale_ = scale;
  model.total_mass_ = model.body_mass_;
  model.mechanism_coordinate_count_ = model.base_count();
  int next_table = 0;
  for (const v1::Leg& leg : robot.legs()) {
    if (leg.has_linkage()) {
      model.AppendCompiledLeg(leg, leg_tables->tables(next_table++));
    } else {
      model.AppendLumpedLeg(leg);
    }
    model.total_mass_ += model.legs_.back()->mass();
    for (int i = 0; i < 2; ++i) {
      model.drives_.push_back(ReadDrive(BimorphOf(leg, i), scale));
    }
  }
  for (const v1::BodyFoot& foot : robot.body_feet()) {
    model.body_feet_.emplace_back(ToVector(foot.point_m()) / scale.length_m);
  }
  return model;
}

RobotModel RobotModel::InFreeFall() const {
  RobotModel model = *this;
  model.gravity_.setZero();
  return model;
}

void RobotModel::AppendCompiledLeg(const v1::Leg& leg, const v1::LegTable& table) {
  auto compiled = std::make_shared<const CompiledLeg>(table, scale_);
  for (int i = 0; i < 2; ++i) {
    travels_.push_back({compiled->travel(i).lower, compiled->travel(i).upper});
  }
  mechanism_coordinate_count_ += leg.linkage().flexures_size();
  loop_equation_count_ += 2 * leg.linkage().closing_flexures_size();
  compile_error_ratio_ = std::max(compile_error_ratio_, table.report().fit_error_ratio());
  legs_.push_back(std::move(compiled));
}

void RobotModel::AppendLumpedLeg(const v1::Leg& leg) {
  for (const v1::LegCoordinate* coordinate : {&leg.lumped().lift(), &leg.lumped().swing()}) {
    travels_.push_back(
        {coordinate->min_m() / scale_.length_m, coordinate->max_m() / scale_.length_m});
  }
  mechanism_coordinate_count_ += 2;
  legs_.push_back(std::make_shared<const LumpedLeg>(leg.lumped(), scale_));
}

Eigen::VectorXd RobotModel::ReferencePosture() const {
  Eigen::VectorXd q = Eigen::VectorXd::Zero(coordinate_count());
  if (is_clamped_ || foot_count() == 0) {
    return q;
  }
  FootKinematics kinematics;
  double lowest = 0.0;
  for (Index i = 0; i < foot_count(); ++i) {
    EvaluateFoot(q, i, false, &kinematics);
    lowest = i == 0 ? kinematics.position[2] : std::min(lowest, kinematics.position[2]);
  }
  q[2] = -lowest;
  return q;
}

// An evaluation of a leg is filled before it is read. Clearing its 1.6 kB first would make a foot a
// tenth slower.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
void RobotModel::EvaluateFoot(const Eigen::Ref<const Eigen::VectorXd>& q,
                              Index foot,
                              bool with_jacobian,
                              FootKinematics* kinematics) const {
  LegEvaluation leg;
  const bool is_leg = foot < leg_count();
  const Index at = base_count() + 2 * foot;
  Vector3d point;
  if (is_leg) {
    legs_[static_cast<size_t>(foot)]->EvaluateFootAndTravel(
        q.segment<2>(at), DerivativeOrder::kFirst, &leg);
    point = FootOf(leg.value);
  } else {
    point = body_feet_[static_cast<size_t>(foot - leg_count())];
  }
  Matrix3d rotation = Matrix3d::Identity();
  Attitude attitude;
  if (is_clamped_) {
    kinematics->position = point + Vector3d(0.0, 0.0, clamp_height_);
  } else {
    EvaluateAttitude(
        q.segment<3>(3), with_jacobian ? AttitudeOrder::kFirst : AttitudeOrder::kValue, &attitude);
    rotation = attitude.rotation;
    kinematics->position = q.head<3>() + rotation * point;
  }
  if (!with_jacobian) {
    return;
  }
  Eigen::Matrix3Xd& jacobian = kinematics->jacobian;
  jacobian.setZero(3, coordinate_count());
  if (!is_clamped_) {
    jacobian.leftCols<3>().setIdentity();
    for (Index i = 0; i < 3; ++i) {
      jacobian.col(3 + i) = attitude.rotation_d[static_cast<size_t>(i)] * point;
    }
  }
  if (is_leg) {
    jacobian.col(at) = rotation * FootOf(leg.first[0]);
    jacobian.col(at + 1) = rotation * FootOf(leg.first[1]);
  }
}

void RobotModel::AddFootHessian(const Eigen::Ref<const Eigen::VectorXd>& q,
                                Index foot,
                                const Vector3d& force,
                                Eigen::MatrixXd* hessian) const {
  Eigen::MatrixXd& h = *hessian;
  LegEvaluation leg;
  const bool is_leg = foot < leg_count();
  const Index at = base_count() + 2 * foot;
  Vector3d body_force = force;
  Attitude attitude;
  if (is_leg) {
    legs_[static_cast<size_t>(foot)]->EvaluateFootAndTravel(
        q.segment<2>(at), DerivativeOrder::kSecond, &leg);
  }
  if (!is_clamped_) {
    EvaluateAttitude(q.segment<3>(3), AttitudeOrder::kSecond, &attitude);
    body_force = attitude.rotation.transpose() * force;
    const Vector3d point =
        is_leg ? FootOf(leg.value) : body_feet_[static_cast<size_t>(foot - leg_count())];
    for (int i = 0; i < 3; ++i) {
      for (int j = 0; j < 3; ++j) {
        const auto k = static_cast<size_t>(Attitude::SecondIndex(std::min(i, j), std::max(i, j)));
        h(3 + i, 3 + j) += force.dot(attitude.rotation_dd[k] * point);
      }
    }
    for (Index i = 0; is_leg && i < 3; ++i) {
      const Vector3d turned = attitude.rotation_d[static_cast<size_t>(i)].transpose() * force;
      for (Index j = 0; j < 2; ++j) {
        const double value = turned.dot(FootOf(leg.first[static_cast<size_t>(j)]));
        h(3 + i, at + j) += value;
        h(at + j, 3 + i) += value;
      }
    }
  }
  if (is_leg) {
    h(at, at) += body_force.dot(FootOf(leg.second[0]));
    h(at + 1, at + 1) += body_force.dot(FootOf(leg.second[1]));
    const double mixed = body_force.dot(FootOf(leg.second[2]));
    h(at, at + 1) += mixed;
    h(at + 1, at) += mixed;
  }
}

void RobotModel::DriveForce(const Eigen::Ref<const Eigen::VectorXd>& q,
                            const Eigen::Ref<const Eigen::VectorXd>& u,
                            Eigen::VectorXd* force) const {
  force->setZero(coordinate_count());
  LegEvaluation leg;
  for (Index i = 0; i < leg_count(); ++i) {
    const Index at = base_count() + 2 * i;
    legs_[static_cast<size_t>(i)]->EvaluateFootAndTravel(
        q.segment<2>(at), DerivativeOrder::kFirst, &leg);
    for (Index c = 0; c < 2; ++c) {
      const double tip = drives_[static_cast<size_t>(2 * i + c)].half_force * u[2 * i + c];
      for (Index j = 0; j < 2; ++j) {
        (*force)[at + j] +=
            leg.first[static_cast<size_t>(j)][static_cast<size_t>(F::kTravel + c)] * tip;
      }
    }
  }
}

void RobotModel::DriveJacobian(const Eigen::Ref<const Eigen::VectorXd>& q,
                               Eigen::MatrixXd* by_u) const {
  by_u->setZero(coordinate_count(), drive_count());
  LegEvaluation leg;
  for (Index i = 0; i < leg_count(); ++i) {
    const Index at = base_count() + 2 * i;
    legs_[static_cast<size_t>(i)]->EvaluateFootAndTravel(
        q.segment<2>(at), DerivativeOrder::kFirst, &leg);
    for (Index c = 0; c < 2; ++c) {
      for (Index j = 0; j < 2; ++j) {
        (*by_u)(at + j, 2 * i + c) =
            leg.first[static_cast<size_t>(j)][static_cast<size_t>(F::kTravel + c)] *
            drives_[static_cast<size_t>(2 * i + c)].half_force;
      }
    }
  }
}

void RobotModel::AddDriveHessian(const Eigen::Ref<const Eigen::VectorXd>& q,
                                 const Eigen::Ref<const Eigen::VectorXd>& u,
                                 Eigen::MatrixXd* hessian) const {
  Eigen::MatrixXd& h = *hessian;
  LegEvaluation leg;
  for (Index i = 0; i < leg_count(); ++i) {
    const Index at = base_count() + 2 * i;
    legs_[static_cast<size_t>(i)]->EvaluateFootAndTravel(
        q.segment<2>(at), DerivativeOrder::kSecond, &leg);
    for (Index c = 0; c < 2; ++c) {
      const double tip = drives_[static_cast<size_t>(2 * i + c)].half_force * u[2 * i + c];
      const auto travel = static_cast<size_t>(F::kTravel + c);
      h(at, at) += tip * leg.second[0][travel];
      h(at + 1, at + 1) += tip * leg.second[1][travel];
      h(at, at + 1) += tip * leg.second[2][travel];
      h(at + 1, at) += tip * leg.second[2][travel];
    }
  }
}
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

}  // namespace gaitshelf::solver
