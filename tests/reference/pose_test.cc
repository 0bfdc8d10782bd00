// The pose estimator's window against the Kalman filter and its smoother.
//
// Sources: R. E. Kalman, "A new approach to linear filtering and prediction problems", Journal of
// Basic Engineering 82 (1960) 35-45; H. E. Rauch, F. Tung, C. T. Striebel, "Maximum likelihood
// estimates of linear dynamic systems", AIAA Journal 3 (1965) 1445-1450; formulas from memory. For
// a linear system with Gaussian noise the least squares over all data, those recursions and a
// window with marginals are one and the same.
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <Eigen/Dense>
#include <gtest/gtest.h>

#include "solver/pose/pose_window.h"

namespace gaitshelf::solver {
namespace {

// x, y, z, then what slips along and across per second.
using Vector = Eigen::Matrix<double, 5, 1>;
using Matrix = Eigen::Matrix<double, 5, 5>;

struct Belief {
  Vector mean;
  Matrix covariance;
};

// A robot that looks along x and never turns, so that the problem is linear: its attitude is known
// to a microradian, which couples a way of a millimetre by a nanometre.
PoseNoise LinearNoise() {
  PoseNoise noise;
  noise.tracked_rad = noise.motion_rad = noise.first_rad = 1e-6;
  noise.motion_rad_per_root_s = 1e-9;
  noise.first_slip_rad_per_s = noise.slip_change_rad_per_s_per_root_s = 1e-6;
  return noise;
}

class Filter {
 public:
  explicit Filter(const PoseNoise& noise) : noise_(noise) {}

  void Start(const Pose& tracked) {
    const double m = noise_.first_m * noise_.first_m;
    const double s = noise_.first_slip_m_per_s * noise_.first_slip_m_per_s;
    Belief first;
    first.mean.setZero();
    first.mean.head<3>() = tracked.head<3>();
    first.covariance = Vector(m, m, m, s, s).asDiagonal();
    filtered_.push_back(Update(first, tracked));
  }

  void Add(const PoseLink& link, const Pose& tracked) {
    const double dt = link.duration_s;
    Matrix transition = Matrix::Identity();
    transition(0, 3) = transition(1, 4) = dt;
    const double m = std::pow(noise_.motion_m, 2) + std::pow(noise_.motion_m_per_root_s, 2) * dt;
    const double s = std::pow(noise_.slip_change_m_per_s_per_root_s, 2) * dt;
    Belief predicted;
    predicted.mean = transition * filtered_.back().mean;
    predicted.mean.head<3>() += link.motion.head<3>();
    predicted.covariance = transition * filtered_.back().covariance * transition.transpose();
    predicted.covariance += Matrix(Vector(m, m, m, s, s).asDiagonal());
    transitions_.push_back(transition);
    predicted_.push_back(predicted);
    filtered_.push_back(Update(predicted, tracked));
  }

  const Vector& newest() const { return filtered_.back().mean; }

  // The smoothed state so many states before the newest.
  Vector Smoothed(std::size_t before) const {
    Vector mean = filtered_.back().mean;
    for (std::size_t i = 1; i <= before; ++i) {
      const std::size_t at = filtered_.size() - 1 - i;
      const Matrix gain = filtered_[at].covariance * transitions_[at].transpose() *
                          predicted_[at].covariance.inverse();
      mean = filtered_[at].mean + gain * (mean - predicted_[at].mean);
    }
    return mean;
  }

 private:
  // One measured component after the other, which is the same as all at once.
  Belief Update(Belief belief, const Pose& tracked) const {
    for (int i = 0; i < 3; ++i) {
      if (std::isfinite(tracked[i])) {
        const double spread = belief.covariance(i, i) + noise_.tracked_m * noise_.tracked_m;
        const Vector gain = belief.covariance.col(i) / spread;
        belief.mean += gain * (tracked[i] - belief.mean[i]);
        belief.covariance -= Matrix(gain * belief.covariance.row(i));
      }
    }
    return belief;
  }

  PoseNoise noise_;
  std::vector<Belief> filtered_;
  std::vector<Belief> predicted_;  // [i] of state i + 1
  std::vector<Matrix> transitions_;
};

Vector StateOf(const SlippingPose& pose) {
  Vector state;
  state << pose.pose.head<3>(), pose.slip.head<2>();
  return state;
}

TEST(PoseWindowReferenceTest, IsTheKalmanFilterAndItsSmootherWhereTheProblemIsLinear) {
  std::mt19937 generator(11);
  std::normal_distribution<double> normal(0.0, 1.0);
  std::uniform_real_distribution<double> even(0.0, 1.0);
  const PoseNoise noise = LinearNoise();
  PoseWindow window(noise);
  Filter filter(noise);
  Vector truth = Vector::Zero();
  const auto seen = [&] {
    Pose tracked = Pose::Zero();
    for (int i = 0; i < 3; ++i) {
      // One in five is missing.
      tracked[i] = even(generator) < 0.2 ? std::numeric_limits<double>::quiet_NaN()
                                         : truth[i] + noise.tracked_m * normal(generator);
    }
    return tracked;
  };
  const Pose first = Pose::Zero();
  window.Start(first, Pose::Zero());
  filter.Start(first);
  for (int i = 1; i <= 300; ++i) {
    PoseLink link;
    link.duration_s = 0.002 + 0.01 * even(generator);
    link.motion[0] = 0.08 * link.duration_s;
    link.motion[1] = 0.01 * link.duration_s * normal(generator);
    const double root = std::sqrt(link.duration_s);
    for (int k = 0; k < 3; ++k) {
      truth[k] += link.motion[k] + (k < 2 ? link.duration_s * truth[3 + k] : 0.0) +
                  noise.motion_m_per_root_s * root * normal(generator);
    }
    for (int k = 3; k < 5; ++k) {
      truth[k] += noise.slip_change_m_per_s_per_root_s * root * normal(generator);
    }
    const Pose tracked = seen();
    window.Add(link, tracked);
    filter.Add(link, tracked);
    // 1e-9 m beside deviations of 1e-5 m: rounding of normal equations, and the coupling above.
    ASSERT_LT((StateOf(window.newest()) - filter.newest()).head<3>().norm(), 1e-9) << i;
    ASSERT_LT((StateOf(window.newest()) - filter.newest()).tail<2>().norm(), 1e-7) << i;
    for (int k = 0; k < window.size(); ++k) {
      const auto before = static_cast<std::size_t>(window.size() - 1 - k);
      ASSERT_LT((StateOf(window.at(k)) - filter.Smoothed(before)).head<3>().norm(), 1e-9) << i;
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
