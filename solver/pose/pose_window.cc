#include "solver/pose/pose_window.h"

#include <array>
#include <cmath>
#include <cstddef>

#include <Eigen/QR>
#include <ceres/tiny_solver.h>

namespace gaitshelf::solver {
namespace {

constexpr int kPose = 6;
constexpr int kState = 9;  // pose and slip
constexpr int kCapacity = PoseWindow::kCapacity;

using StateVector = Eigen::Matrix<double, kState, 1>;
using StateMatrix = Eigen::Matrix<double, kState, kState>;

std::size_t At(int index) { return static_cast<std::size_t>(index); }

SlippingPose ToPose(const StateVector& x) { return {.pose = x.head<kPose>(), .slip = x.tail<3>()}; }

// What is known of the oldest pose: |root (x - mean) + offset|^2.
struct Prior {
  StateMatrix root = StateMatrix::Zero();
  StateVector mean = StateVector::Zero();
  StateVector offset = StateVector::Zero();
};

struct Link {
  PoseLink told{};
  StateVector weight = StateVector::Zero();  // reciprocal standard deviations
};

struct Tracked {
  Pose pose = Pose::Zero();
  Pose weight = Pose::Zero();  // 0 where it is not tracked
};

// The motion of a link with what the slip at its start adds to it: a way along a heading that the
// slip turns on the way, by half of it on average.
Pose SlippingMotion(const PoseLink& told, const Eigen::Vector3d& slip) {
  const double turn = 0.5 * told.duration_s * slip[2];
  const double c = std::cos(turn), s = std::sin(turn);
  const double along = told.motion[0] + told.duration_s * slip[0];
  const double across = told.motion[1] + told.duration_s * slip[1];
  Pose motion = told.motion;
  motion[0] = c * along - s * across;
  motion[1] = s * along + c * across;
  motion[5] += 2.0 * turn;
  return motion;
}

// Rows 0 to 5: how the motion between two states differs from the link; 6 to 8: change of slip.
StateVector LinkResidual(const Link& link, const StateVector& from, const StateVector& to) {
  StateVector r;
  r.head<kPose>() = MotionBetween(from.head<kPose>(), to.head<kPose>()) -
                    SlippingMotion(link.told, from.tail<3>());
  r.tail<3>() = to.tail<3>() - from.tail<3>();
  return link.weight.cwiseProduct(r);
}

// Its derivatives by both states.
void LinkJacobian(const Link& link,
                  const StateVector& from,
                  const StateVector& to,
                  StateMatrix* by_from,
                  StateMatrix* by_to) {
  const double c = std::cos(from[5]), s = std::sin(from[5]);
  const double dx = to[0] - from[0], dy = to[1] - from[1];
  by_to->setIdentity();
  by_to->topLeftCorner<2, 2>() << c, s, -s, c;
  *by_from = -*by_to;
  (*by_from)(0, 5) = c * dy - s * dx;
  (*by_from)(1, 5) = -c * dx - s * dy;
  const double dt = link.told.duration_s;
  const Pose motion = SlippingMotion(link.told, from.tail<3>());
  const double half = 0.5 * dt * from[8];
  by_from->block<2, 2>(0, 6) << -dt * std::cos(half), dt * std::sin(half), -dt * std::sin(half),
      -dt * std::cos(half);
  (*by_from)(0, 8) = 0.5 * dt * motion[1];
  (*by_from)(1, 8) = -0.5 * dt * motion[0];
  (*by_from)(5, 8) = -dt;
  *by_from = link.weight.asDiagonal() * *by_from;
  *by_to = link.weight.asDiagonal() * *by_to;
}

// The whole window, every size fixed: rows of the prior, of the links, of the tracked poses.
// States that are not there yet are held at 0.
struct WindowCost {
  using Scalar = double;
  static constexpr int kFirstTrackedRow = kState * kCapacity;
  // The names that ceres::TinySolver asks for.
  // NOLINTNEXTLINE(readability-identifier-naming)
  enum { NUM_PARAMETERS = kState * kCapacity, NUM_RESIDUALS = (kState + kPose) * kCapacity };
  using Jacobian = Eigen::Matrix<double, NUM_RESIDUALS, NUM_PARAMETERS>;

  int size = 0;
  Prior prior{};
  std::array<Link, kCapacity> links{};  // links[i] leads to state i; the first is not used
  std::array<Tracked, kCapacity> tracked{};

  bool operator()(const double* parameters, double* residuals, double* jacobian) const {
    Eigen::Map<const Eigen::Matrix<double, NUM_PARAMETERS, 1>> x(parameters);
    Eigen::Map<Eigen::Matrix<double, NUM_RESIDUALS, 1>> r(residuals);
    r.setZero();
    r.head<kState>() = prior.root * (x.head<kState>() - prior.mean) + prior.offset;
    for (int i = 0; i < kCapacity; ++i) {
      const StateVector state = x.segment<kState>(kState * i);
      if (i >= size) {
        r.segment<kState>(kState * i) = state;
        continue;
      }
      if (i > 0) {
        r.segment<kState>(kState * i) =
            LinkResidual(links[At(i)], x.segment<kState>(kState * (i - 1)), state);
      }
      r.segment<kPose>(kFirstTrackedRow + kPose * i) =
          tracked[At(i)].weight.cwiseProduct(state.head<kPose>() - tracked[At(i)].pose);
    }
    if (jacobian != nullptr) {
      FillJacobian(parameters, jacobian);
    }
    return true;
  }

  void FillJacobian(const double* parameters, double* jacobian) const {
    Eigen::Map<const Eigen::Matrix<double, NUM_PARAMETERS, 1>> x(parameters);
    Eigen::Map<Jacobian> j(jacobian);
    j.setZero();
    j.topLeftCorner<kState, kState>() = prior.root;
    StateMatrix by_from, by_to;
    for (int i = 0; i < kCapacity; ++i) {
      const int at = kState * i;
      if (i >= size) {
        j.block<kState, kState>(at, at).setIdentity();
        continue;
      }
      if (i > 0) {
        LinkJacobian(
            links[At(i)], x.segment<kState>(at - kState), x.segment<kState>(at), &by_from, &by_to);
        j.block<kState, kState>(at, at - kState) = by_from;
        j.block<kState, kState>(at, at) = by_to;
      }
      j.block<kPose, kPose>(kFirstTrackedRow + kPose * i, at).diagonal() = tracked[At(i)].weight;
    }
  }
};

// The prior of the second state that says the same as the prior of the first, its tracked pose and
// the link between both, as far as these are linear about the states.
Prior Marginalise(const WindowCost& cost, const StateVector& first, const StateVector& second) {
  constexpr int kRows = 2 * kState + kPose;
  // The last column is the residual, which the reflections turn along.
  Eigen::Matrix<double, kRows, 2 * kState + 1> rows;
  rows.setZero();
  rows.topLeftCorner<kState, kState>() = cost.prior.root;
  rows.col(2 * kState).head<kState>() =
      cost.prior.root * (first - cost.prior.mean) + cost.prior.offset;
  StateMatrix by_from, by_to;
  LinkJacobian(cost.links[1], first, second, &by_from, &by_to);
  rows.block<kState, kState>(kState, 0) = by_from;
  rows.block<kState, kState>(kState, kState) = by_to;
  rows.col(2 * kState).segment<kState>(kState) = LinkResidual(cost.links[1], first, second);
  const Tracked& tracked = cost.tracked[0];
  rows.block<kPose, kPose>(2 * kState, 0).diagonal() = tracked.weight;
  rows.col(2 * kState).tail<kPose>() =
      tracked.weight.cwiseProduct(first.head<kPose>() - tracked.pose);
  const Eigen::HouseholderQR<decltype(rows)> qr(rows);
  Prior prior;
  prior.root =
      qr.matrixQR().block<kState, kState>(kState, kState).template triangularView<Eigen::Upper>();
  prior.offset = qr.matrixQR().col(2 * kState).segment<kState>(kState);
  prior.mean = second;
  return prior;
}

}  // namespace

Pose MovedSlipping(const SlippingPose& from, const PoseLink& link) {
  return Moved(from.pose, SlippingMotion(link, from.slip));
}

struct PoseWindow::State {
  explicit State(const PoseNoise& given) : noise(given) {
    // The first step solves the linear problem, the others what turns add to it.
    solver.options.max_num_iterations = 4;
    solver.options.initial_trust_region_radius = 1e12;
    solver.options.parameter_tolerance = 1e-10;
  }

  Tracked Weigh(const Pose& pose) const {
    Tracked weighed;
    for (int i = 0; i < kPose; ++i) {
      if (std::isfinite(pose[i])) {
        weighed.pose[i] = pose[i];
        weighed.weight[i] = 1.0 / (i < 3 ? noise.tracked_m : noise.tracked_rad);
      }
    }
    return weighed;
  }

  Link Weigh(const PoseLink& told) const {
    const auto weight = [&](double fixed, double per_root_s) {
      return 1.0 / std::sqrt(fixed * fixed + per_root_s * per_root_s * told.duration_s);
    };
    Link link;
    link.told = told;
    link.weight.head<3>().setConstant(weight(noise.motion_m, noise.motion_m_per_root_s));
    link.weight.segment<3>(3).setConstant(weight(noise.motion_rad, noise.motion_rad_per_root_s));
    link.weight.segment<2>(6).setConstant(weight(0.0, noise.slip_change_m_per_s_per_root_s));
    link.weight[8] = weight(0.0, noise.slip_change_rad_per_s_per_root_s);
    return link;
  }

  // Makes room for one more state.
  void DropFirst() {
    cost.prior = Marginalise(cost, x.head<kState>(), x.segment<kState>(kState));
    for (int i = 0; i + 1 < kCapacity; ++i) {
      cost.links[At(i)] = cost.links[At(i + 1)];
      cost.tracked[At(i)] = cost.tracked[At(i + 1)];
      const StateVector moved = x.segment<kState>(kState * (i + 1));
      x.segment<kState>(kState * i) = moved;
    }
    --cost.size;
    x.tail<kState>().setZero();
  }

  void Solve() {
    const Eigen::Matrix<double, WindowCost::NUM_PARAMETERS, 1> guess = x;
    solver.Solve(cost, &x);
    if (!x.allFinite()) {
      x = guess;
    }
    for (int i = 0; i < cost.size; ++i) {
      poses[At(i)] = ToPose(x.segment<kState>(kState * i));
    }
  }

  PoseNoise noise;
  WindowCost cost{};
  ceres::TinySolver<WindowCost> solver{};
  Eigen::Matrix<double, WindowCost::NUM_PARAMETERS, 1> x =
      Eigen::Matrix<double, WindowCost::NUM_PARAMETERS, 1>::Zero();
  std::array<SlippingPose, kCapacity> poses{};
};

PoseWindow::PoseWindow(const PoseNoise& noise) : state_(std::make_unique<State>(noise)) {}
PoseWindow::PoseWindow(PoseWindow&&) noexcept = default;
PoseWindow& PoseWindow::operator=(PoseWindow&&) noexcept = default;
PoseWindow::~PoseWindow() = default;

void PoseWindow::Start(const Pose& tracked, const Pose& guess) {
  State& state = *state_;
  const PoseNoise& noise = state.noise;
  state.x.setZero();
  for (int i = 0; i < kPose; ++i) {
    state.x[i] = std::isfinite(tracked[i]) ? tracked[i] : guess[i];
  }
  StateVector deviation;
  deviation.head<3>().setConstant(noise.first_m);
  deviation.segment<3>(3).setConstant(noise.first_rad);
  deviation.segment<2>(6).setConstant(noise.first_slip_m_per_s);
  deviation[8] = noise.first_slip_rad_per_s;
  state.cost.prior.root = deviation.cwiseInverse().asDiagonal();
  state.cost.prior.mean = state.x.head<kState>();
  state.cost.prior.offset.setZero();
  state.cost.tracked[0] = state.Weigh(tracked);
  state.cost.size = 1;
  state.Solve();
}

void PoseWindow::Add(const PoseLink& link, const Pose& tracked) {
  State& state = *state_;
  if (state.cost.size == kCapacity) {
    state.DropFirst();
  }
  const int index = state.cost.size++;
  const StateVector last = state.x.segment<kState>(kState * (index - 1));
  state.x.segment<kPose>(kState * index) = MovedSlipping(ToPose(last), link);
  state.x.segment<3>(kState * index + kPose) = last.tail<3>();
  state.cost.links[At(index)] = state.Weigh(link);
  state.cost.tracked[At(index)] = state.Weigh(tracked);
  state.Solve();
}

int PoseWindow::size() const { return state_->cost.size; }

const SlippingPose& PoseWindow::at(int index) const { return state_->poses[At(index)]; }

}  // namespace gaitshelf::solver
