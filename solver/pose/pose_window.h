// The least-squares core of the pose estimator: the last few tracked poses, each linked to the one
// before by the motion that the legs told. What leaves the window lives on in what is known of its
// oldest pose.
//
// For motions without turns the problem is linear and the result that of a Kalman filter for the
// newest pose, and of its smoother for the older ones.
#ifndef GAITSHELF_SOLVER_POSE_POSE_WINDOW_H_
#define GAITSHELF_SOLVER_POSE_POSE_WINDOW_H_

#include <memory>

#include <Eigen/Core>

#include "solver/pose/pose.h"

namespace gaitshelf::solver {

// Standard deviations, SI. The defaults suit a crawler of a few grams and a camera above it; own
// choice, by the replays of tests/bench/pose.
struct PoseNoise {
  // Of one tracked pose.
  double tracked_m = 5e-5;
  double tracked_rad = 5e-3;
  // Of the motion that the legs tell, whatever its length, and for each root of a second.
  double motion_m = 1e-5;
  double motion_rad = 3e-4;
  double motion_m_per_root_s = 5e-4;
  double motion_rad_per_root_s = 0.02;
  // By how much the steady slip of the feet changes in a root of a second.
  double slip_change_m_per_s_per_root_s = 2e-3;
  double slip_change_rad_per_s_per_root_s = 0.1;
  // What is known before the first tracked pose.
  double first_m = 0.1;
  double first_rad = 1.0;
  double first_slip_m_per_s = 0.02;
  double first_slip_rad_per_s = 0.5;
};

// A pose and the steady slip: by how much the body moves more than the legs tell, along and across
// its heading, m/s, and in yaw, rad/s.
struct SlippingPose {
  Pose pose = Pose::Zero();
  Eigen::Vector3d slip = Eigen::Vector3d::Zero();
};

// What the legs told from one tracked pose to the next.
struct PoseLink {
  Pose motion = Pose::Zero();
  double duration_s = 0.0;  // above 0
};

// The pose after a motion, with what the steady slip adds to it.
Pose MovedSlipping(const SlippingPose& from, const PoseLink& link);

class PoseWindow {
 public:
  static constexpr int kCapacity = 6;

  explicit PoseWindow(const PoseNoise& noise);
  PoseWindow(PoseWindow&& other) noexcept;
  PoseWindow& operator=(PoseWindow&& other) noexcept;
  ~PoseWindow();

  // Forgets everything and begins with a pose; NaN where it is not tracked, then the guess counts
  // as far as first_m and first_rad go. Allocates nothing.
  void Start(const Pose& tracked, const Pose& guess);
  // Adds the next tracked pose; NaN where it is not tracked. Not before Start. Allocates nothing
  // and takes a bounded time.
  void Add(const PoseLink& link, const Pose& tracked);

  // 0 to kCapacity.
  int size() const;
  // From the oldest, 0, to the newest.
  const SlippingPose& at(int index) const;
  const SlippingPose& newest() const { return at(size() - 1); }

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_POSE_POSE_WINDOW_H_
