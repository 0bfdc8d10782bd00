// A described robot on a surface under the replay's own step of fixed length, as the reference
// tests play it.
#ifndef GAITSHELF_TESTS_REFERENCE_PLAY_H_
#define GAITSHELF_TESTS_REFERENCE_PLAY_H_

#include <algorithm>

#include <Eigen/Core>
#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "solver/replay/contact_step.h"
#include "tests/support/robots.h"

namespace gaitshelf::test {

inline constexpr double kG = solver::kGravityMPerS2;
// What a step leaves of its contact laws in slow situations, m: a tenth of the step's limit.
inline constexpr double kMotionTolerance = 1e-10;

// A robot on a surface under a step of fixed length.
class Play {
 public:
  // The tolerance is that of the contact laws' residual, m.
  Play(const v1::Robot& robot,
       double friction,
       double slope_rad,
       double h,
       double tolerance = kMotionTolerance)
      : model_(
            *solver::RobotModel::Create(robot, MakeSurface(friction, slope_rad), solver::Scale())),
        stepper_(&model_),
        u_(Eigen::VectorXd::Zero(model_.drive_count())),
        h_(h),
        tolerance_(tolerance) {}

  // The last interval had this velocity.
  void Slide(double vx, double vy, double yaw_rate = 0.0) {
    const Eigen::VectorXd position = model_.ReferencePosture();
    Eigen::VectorXd previous = position;
    previous[0] -= h_ * vx;
    previous[1] -= h_ * vy;
    if (previous.size() > 5) {
      previous[5] -= h_ * yaw_rate;
    }
    state_ = solver::StartAfterInterval(model_, previous, position, h_);
  }

  void Start(const Eigen::VectorXd& position, const Eigen::VectorXd& velocity) {
    state_ = solver::StartWithVelocity(model_, position, velocity, h_);
  }

  // Gives the first step a load on every foot to start its search from: feet that share the load in
  // many ways then share it nearly like this.
  void ShareLoad() {
    const auto count = static_cast<double>(model_.foot_count());
    for (Eigen::Index i = 0; i < model_.foot_count(); ++i) {
      state_.foot_forces[3 * i + 2] = -model_.total_mass() * model_.gravity()[2] / count;
    }
  }

  void Step() {
    const absl::Status status = stepper_.Step(u_, h_, &state_, &report_);
    ASSERT_TRUE(status.ok()) << status;
    // Rounding, as the step itself allows for it.
    ASSERT_LE(report_.dynamics_residual,
              std::max(solver::StepTolerance::kDynamics, 1e-15 / (h_ * h_)));
    ASSERT_LE(report_.contact_residual, tolerance_);
  }

  const Eigen::VectorXd& q() const { return state_.knot.position; }
  const Eigen::VectorXd& v() const { return state_.velocity; }
  const solver::ReplayState& state() const { return state_; }
  const solver::StepReport& report() const { return report_; }
  const solver::RobotModel& model() const { return model_; }
  double h() const { return h_; }

 private:
  solver::RobotModel model_;
  solver::ContactStepper stepper_;
  Eigen::VectorXd u_;
  double h_;
  double tolerance_;
  solver::ReplayState state_;
  solver::StepReport report_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_REFERENCE_PLAY_H_
