#include "solver/leg/standing.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include <Eigen/QR>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Feet this close to the surface, as a share of the body's height, touch it: wider than rounding,
// far below what a description tells apart (own choice).
constexpr double kTouchRatio = 1e-6;
// Unbalanced force, as a share of the weight, that counts as none: rounding only.
constexpr double kBalanceRatio = 1e-9;

absl::Status CannotStand(absl::string_view reason) {
  return absl::FailedPreconditionError(
      absl::StrCat("the robot cannot stand with all leg coordinates at 0: ",
                   reason,
                   "; look at it in free flight or with a clamped body, or change its feet"));
}

bool IsStanding(FootCondition condition) {
  return condition == FootCondition::kSliding || condition == FootCondition::kSticking;
}

// Generalised force on the body's six coordinates of a unit load on each foot.
MatrixXd ByLoad(const RobotModel& model, const Standing& standing) {
  MatrixXd by_load(6, static_cast<Index>(standing.feet.size()));
  FootKinematics kinematics;
  for (Index i = 0; i < by_load.cols(); ++i) {
    model.EvaluateFoot(
        standing.position, standing.feet[static_cast<std::size_t>(i)], true, &kinematics);
    by_load.col(i) = kinematics.jacobian.row(2).head(6).transpose();
  }
  return by_load;
}

// Spreads the robot's weight over the feet that touch. A foot that would have to pull is taken off
// the surface, one at a time.
absl::Status BalanceBody(const RobotModel& model, const VectorXd& force, Standing* standing) {
  const double weight = model.total_mass() * model.gravity().norm();
  while (!standing->feet.empty()) {
    const MatrixXd by_load = ByLoad(model, *standing);
    const VectorXd load = by_load.completeOrthogonalDecomposition().solve(VectorXd(-force.head(6)));
    if ((by_load * load + force.head(6)).norm() > kBalanceRatio * weight) {
      return CannotStand("its feet do not hold its centre of mass level");
    }
    Index worst = 0;
    if (load.minCoeff(&worst) >= -kBalanceRatio * weight) {
      standing->normal_load.assign(load.data(), load.data() + load.size());
      return absl::OkStatus();
    }
    standing->feet.erase(standing->feet.begin() + worst);
  }
  return CannotStand("no foot would press on the surface");
}

// Lets the drives take what is left on each leg; the rest is preload.
void BalanceLegs(const RobotModel& model, const VectorXd& force, Standing* standing) {
  standing->drive.setZero(model.drive_count());
  standing->preload.setZero(model.coordinate_count());
  MatrixXd by_drive;
  model.DriveJacobian(standing->position, &by_drive);
  for (Index leg = 0; leg < model.leg_count(); ++leg) {
    const Index at = model.base_count() + 2 * leg;
    const Eigen::Matrix2d block = by_drive.block<2, 2>(at, 2 * leg);
    const Eigen::Vector2d load = -force.segment<2>(at);
    const Eigen::Vector2d drive = block.completeOrthogonalDecomposition().solve(load);
    standing->drive.segment<2>(2 * leg) = drive;
    standing->preload.segment<2>(at) = load - block * drive;
  }
}

}  // namespace

absl::StatusOr<Standing> FindStanding(const RobotModel& model, FootCondition condition) {
  Standing standing;
  standing.condition = condition;
  standing.position = model.ReferencePosture();
  const Index n = model.coordinate_count();
  LagrangianTerms terms;
  model.Evaluate(standing.position, VectorXd::Zero(n), DerivativeOrder::kFirst, &terms);
  VectorXd force = terms.force;
  if (IsStanding(condition)) {
    if (model.base_count() == 0) {
      return CannotStand("its body is clamped");
    }
    FootKinematics kinematics;
    for (Index foot = 0; foot < model.foot_count(); ++foot) {
      model.EvaluateFoot(standing.position, foot, false, &kinematics);
      if (kinematics.position[2] <= kTouchRatio * standing.position[2]) {
        standing.feet.push_back(foot);
      }
    }
    if (absl::Status balance = BalanceBody(model, force, &standing); !balance.ok()) {
      return balance;
    }
    for (std::size_t i = 0; i < standing.feet.size(); ++i) {
      model.EvaluateFoot(standing.position, standing.feet[i], true, &kinematics);
      force += standing.normal_load[i] * kinematics.jacobian.row(2).transpose();
    }
  }
  BalanceLegs(model, force, &standing);
  return standing;
}

double LiftMargin(const RobotModel& model, const Standing& standing, double duty_ratio) {
  double margin = 1.0;
  for (Index i = 0; i < model.drive_count(); i += 2) {
    const Drive& drive = model.drives()[static_cast<std::size_t>(i)];
    if (!drive.is_present) {
      continue;
    }
    const double u = standing.drive[i];
    // A straight beam may sit at the end of its voltage range: then there is no force that way.
    const double most = u > 0.0 ? drive.upper : -drive.lower;
    const double needed = std::abs(u) / duty_ratio;
    if (needed > 0.0) {
      margin = std::min(margin, most > 0.0 ? 1.0 - needed / most : -needed);
    }
  }
  return margin;
}

double AdvanceReach(const RobotModel& model, double duty_ratio) {
  double least = 0.0;
  bool is_any = false;
  FootKinematics front, rear;
  for (Index leg = 0; leg < model.leg_count(); ++leg) {
    const auto swing = static_cast<std::size_t>(2 * leg + 1);
    if (!model.drives()[swing].is_present) {
      continue;
    }
    VectorXd position = model.ReferencePosture();
    const Index at = model.base_count() + 2 * leg + 1;
    position[at] = model.travels()[swing].upper;
    model.EvaluateFoot(position, leg, false, &front);
    position[at] = model.travels()[swing].lower;
    model.EvaluateFoot(position, leg, false, &rear);
    const double travel = std::abs(front.position[0] - rear.position[0]);
    least = is_any ? std::min(least, travel) : travel;
    is_any = true;
  }
  return least / duty_ratio;
}

}  // namespace gaitshelf::solver
