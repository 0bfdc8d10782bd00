#include "solver/calibrate/gait_unknowns.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "solver/base/status_macros.h"
#include "solver/calibrate/friction.h"
#include "solver/calibrate/leg_report.h"
#include "solver/calibrate/linear_leg.h"
#include "solver/robot/draw.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Whoever calibrates doubts the description: it may be off by up to a fifth, however little it
// states, and damping, which is rarely described from more than experience, by three tenths (own
// choices). A value that may be anywhere within +-a has the standard uncertainty a / sqrt(3):
// JCGM 100:2008 (GUM), 4.3.7. What is drawn wider than it can be makes replays look rougher than
// they are, for the rest of a curved answer off its plane grows with the square of the width.
constexpr double kRectangular = 0.57735026918962576;
constexpr double kLeastDoubtRatio = 0.2 * kRectangular;
constexpr double kDampingRatio = 0.3 * kRectangular;
// Keeps what is described as exact from making the prior infinitely strong.
constexpr double kLeastRatio = 1e-5;

double* FactorOf(const EstimateSubject& subject, LegFactors* factors) {
  const auto axis = static_cast<std::size_t>(subject.axis);
  switch (subject.quantity) {
    case v1::CALIBRATION_QUANTITY_STIFFNESS:
      return &factors->stiffness[axis];
    case v1::CALIBRATION_QUANTITY_DAMPING:
      return &factors->damping[axis];
    case v1::CALIBRATION_QUANTITY_GAIN:
      return &factors->gain[axis];
    default:
      return &factors->mass;
  }
}

}  // namespace

GaitUnknowns::GaitUnknowns(v1::Robot robot, v1::Surface surface)
    : robot_(std::move(robot)), surface_(std::move(surface)) {}

void GaitUnknowns::Add(const EstimateSubject& subject,
                       double stated,
                       const std::map<std::string, double>& told) {
  const auto found = told.find(ParameterName(subject));
  subjects_.push_back(subject);
  is_told_.push_back(found != told.end());
  prior_.conservativeResize(count());
  prior_[count() - 1] = std::max(kLeastRatio, found != told.end() ? found->second : stated);
}

absl::StatusOr<GaitUnknowns> GaitUnknowns::Create(const v1::Robot& robot,
                                                  const v1::Surface& surface,
                                                  const std::map<std::string, double>& told) {
  GaitUnknowns unknowns(robot, surface);
  if (surface.friction_coefficient() > 0.0) {
    unknowns.Add({.quantity = v1::CALIBRATION_QUANTITY_FRICTION,
                  .described_si = surface.friction_coefficient()},
                 std::max(kLeastDoubtRatio, DescribedFrictionRatio(surface)),
                 told);
    unknowns.legs_.push_back(-1);
  }
  const v1::RobotUncertainty stated = StatedUncertainty(robot);
  for (int i = 0; i < robot.legs_size(); ++i) {
    const v1::Leg& leg = robot.legs(i);
    GAITSHELF_ASSIGN_OR_RETURN(LegNumbers numbers, LegNumbers::Create(leg));
    GAITSHELF_ASSIGN_OR_RETURN(const LinearLeg linear, LineariseLeg(leg, numbers));
    unknowns.numbers_.push_back(std::move(numbers));
    for (const EstimateSubject& subject : LegSubjects(leg, linear)) {
      const v1::CalibrationQuantity quantity = subject.quantity;
      unknowns.Add(subject,
                   quantity == v1::CALIBRATION_QUANTITY_STIFFNESS
                       ? std::max(kLeastDoubtRatio, stated.stiffness_ratio())
                   : quantity == v1::CALIBRATION_QUANTITY_GAIN
                       ? std::max(kLeastDoubtRatio, stated.gain_ratio())
                   : quantity == v1::CALIBRATION_QUANTITY_MASS ? stated.mass_ratio()
                                                               : kDampingRatio,
                   told);
      unknowns.legs_.push_back(i);
    }
  }
  return unknowns;
}

v1::Robot GaitUnknowns::RobotOf(const VectorXd& logs) const {
  std::vector<LegFactors> factors(numbers_.size());
  for (Index i = 0; i < count(); ++i) {
    const int leg = legs_[static_cast<std::size_t>(i)];
    if (leg >= 0) {
      *FactorOf(subject(i), &factors[static_cast<std::size_t>(leg)]) = std::exp(logs[i]);
    }
  }
  v1::Robot robot = robot_;
  for (int i = 0; i < robot.legs_size(); ++i) {
    const auto at = static_cast<std::size_t>(i);
    *robot.mutable_legs(i) = numbers_[at].Scaled(robot_.legs(i), factors[at]);
  }
  return robot;
}

v1::Surface GaitUnknowns::SurfaceOf(const VectorXd& logs) const {
  v1::Surface surface = surface_;
  for (Index i = 0; i < count(); ++i) {
    if (subject(i).quantity == v1::CALIBRATION_QUANTITY_FRICTION) {
      surface.set_friction_coefficient(surface_.friction_coefficient() * std::exp(logs[i]));
    }
  }
  return surface;
}

}  // namespace gaitshelf::solver
