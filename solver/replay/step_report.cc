#include "solver/replay/step_report.h"

#include <algorithm>
#include <bit>

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

constexpr int kMaxHalvings = 6;
// A foot counts as loaded above this normal force, as a share of the robot's weight.
constexpr double kLoadedRatio = 1e-6;

// Halves what fails; each half is a step of its own, which may be halved again.
absl::Status StepOrHalve(double h,
                         const std::function<bool(double h)>& try_step,
                         StepReport* report) {
  // In shares of the step's length that are exact.
  constexpr unsigned kWhole = 1U << kMaxHalvings;
  unsigned size = kWhole;
  for (unsigned done = 0; done < kWhole;) {
    const double substep = h * (static_cast<double>(size) / kWhole);
    if (try_step(substep)) {
      ++report->substep_count;
      done += size;
      // After a first half comes its other half, after that the other half of both, and so on.
      size = 1U << std::countr_zero(done);
    } else if (size == 1) {
      return absl::InternalError(
          absl::StrCat("the replay's step does not converge even at ", substep, " units of time"));
    } else {
      size /= 2;
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
  absl::Status status = StepOrHalve(h, try_step, report);
  report->foot_forces /= h;
  return status;
}

}  // namespace gaitshelf::solver
