#include "solver/replay/step_report.h"

#include <algorithm>

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

constexpr int kMaxHalvings = 6;
// A foot counts as loaded above this normal force, as a share of the robot's weight.
constexpr double kLoadedRatio = 1e-6;

absl::Status StepOrHalve(double h,
                         int halving,
                         const std::function<bool(double h)>& try_step,
                         StepReport* report) {
  if (try_step(h)) {
    ++report->substep_count;
    return absl::OkStatus();
  }
  if (halving == kMaxHalvings) {
    return absl::InternalError(
        absl::StrCat("the replay's step does not converge even at ", h, " units of time"));
  }
  for (int i = 0; i < 2; ++i) {
    if (absl::Status status = StepOrHalve(0.5 * h, halving + 1, try_step, report); !status.ok()) {
      return status;
    }
  }
  return absl::OkStatus();
}

}  // namespace

double StepTolerance::DynamicsAt(int iteration, double h) {
  const double rounding = iteration < kMaxStepIterations / 2 ? 0.0 : 1e-15 / (h * h);
  return std::max(kDynamics, rounding);
}

void StepReport::AddFeet(const Eigen::VectorXd& forces,
                         const Eigen::VectorXd& motion,
                         double weight,
                         double h) {
  foot_forces += h * forces;
  for (Eigen::Index i = 0; i < forces.size() / 3; ++i) {
    foot_motion.col(i).head<2>() += motion.segment<2>(3 * i);
    foot_motion(2, i) = motion[3 * i + 2];
    if (forces[3 * i + 2] > kLoadedRatio * weight) {
      foot_slip[i] += motion.segment<2>(3 * i).norm();
    }
  }
}

void CarryMomentum(double from_step,
                   double to_step,
                   const Eigen::VectorXd& knot_force,
                   Eigen::VectorXd* momentum) {
  *momentum += 0.5 * (from_step - to_step) * knot_force;
}

absl::Status StepInHalves(double h,
                          Eigen::Index foot_count,
                          const std::function<bool(double h)>& try_step,
                          StepReport* report) {
  *report = StepReport();
  report->foot_forces.setZero(3 * foot_count);
  report->foot_motion.setZero(3, foot_count);
  report->foot_slip.setZero(foot_count);
  absl::Status status = StepOrHalve(h, 0, try_step, report);
  report->foot_forces /= h;
  return status;
}

}  // namespace gaitshelf::solver
