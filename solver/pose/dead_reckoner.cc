#include "solver/pose/dead_reckoner.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include <ceres/tiny_solver.h>

#include "solver/leg/attitude.h"
#include "solver/measure/statistics.h"
#include "solver/pose/planned_body.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Vector3d;

// How far a foot that stands is trusted to stay in place, m per root of a second; own choice: a
// crawler that slides 1 mm in a second at random.
constexpr double kSlipMPerRootS = 5e-4;
// Of its height above the surface, m: compliance and errors of the legs.
constexpr double kHeightM = 5e-5;
// How far the motion of the body is trusted to be the planned one, m and rad per root of a second;
// own choice: one of 70 mm/s is off by a tenth of the way in 0.1 s.
constexpr double kPlanMPerRootS = 3e-3;
constexpr double kPlanRadPerRootS = 0.1;
// And its height and tilt, m and rad.
constexpr double kPlanHeightM = 1e-3;
constexpr double kPlanTiltRad = 0.05;

// Least squares over one pose: rows 0 to 5 the planned motion, 6 to 8 planned height, roll and
// pitch, then three rows a foot that stands.
struct StepCost {
  using Scalar = double;
  static constexpr int kFirstFootRow = 9;
  // The names that ceres::TinySolver asks for.
  // NOLINTNEXTLINE(readability-identifier-naming)
  enum { NUM_PARAMETERS = 6, NUM_RESIDUALS = kFirstFootRow + 3 * DeadReckoner::kMostFeet };

  Pose last = Pose::Zero();
  Pose motion = Pose::Zero();           // that is planned
  Pose motion_weight = Pose::Zero();    // reciprocal standard deviations
  Vector3d posture = Vector3d::Zero();  // planned height, roll, pitch
  Vector3d posture_weight = Vector3d::Zero();
  int foot_count = 0;
  std::array<bool, DeadReckoner::kMostFeet> stands{};
  std::array<Vector3d, DeadReckoner::kMostFeet> point{};   // of the foot in the body frame
  std::array<Vector3d, DeadReckoner::kMostFeet> anchor{};  // where it stands
  double slip_weight = 0.0;

  bool operator()(const double* parameters, double* residuals, double* jacobian) const {
    const Pose pose = Eigen::Map<const Pose>(parameters);
    Eigen::Map<Eigen::Matrix<double, NUM_RESIDUALS, 1>> r(residuals);
    r.setZero();
    r.head<6>() = motion_weight.cwiseProduct(MotionBetween(last, pose) - motion);
    r.segment<3>(6) = posture_weight.cwiseProduct(pose.segment<3>(2) - posture);
    Attitude attitude;
    EvaluateAttitude(pose.tail<3>(),
                     jacobian != nullptr ? AttitudeOrder::kFirst : AttitudeOrder::kValue,
                     &attitude);
    const Vector3d weight(slip_weight, slip_weight, 1.0 / kHeightM);
    for (int i = 0; i < foot_count; ++i) {
      const auto k = static_cast<std::size_t>(i);
      if (stands[k]) {
        const Vector3d place = pose.head<3>() + attitude.rotation * point[k];
        r.segment<3>(kFirstFootRow + 3 * i) = weight.cwiseProduct(place - anchor[k]);
      }
    }
    if (jacobian != nullptr) {
      FillJacobian(attitude, weight, jacobian);
    }
    return true;
  }

  void FillJacobian(const Attitude& attitude, const Vector3d& weight, double* jacobian) const {
    Eigen::Map<Eigen::Matrix<double, NUM_RESIDUALS, NUM_PARAMETERS>> j(jacobian);
    j.setZero();
    const double c = std::cos(last[5]), s = std::sin(last[5]);
    j.topRows<6>().diagonal() = motion_weight;
    j(0, 0) = motion_weight[0] * c;
    j(0, 1) = motion_weight[0] * s;
    j(1, 0) = -motion_weight[1] * s;
    j(1, 1) = motion_weight[1] * c;
    for (int i = 0; i < 3; ++i) {
      j(6 + i, 2 + i) = posture_weight[i];
    }
    for (int i = 0; i < foot_count; ++i) {
      const auto k = static_cast<std::size_t>(i);
      if (!stands[k]) {
        continue;
      }
      auto rows = j.middleRows<3>(kFirstFootRow + 3 * i);
      rows.leftCols<3>() = weight.asDiagonal();
      for (int axis = 0; axis < 3; ++axis) {
        rows.col(3 + axis) =
            weight.cwiseProduct(attitude.rotation_d[static_cast<std::size_t>(axis)] * point[k]);
      }
    }
  }
};

bool IsPlayed(double phase_ratio) { return phase_ratio >= 0.0; }

}  // namespace

struct DeadReckoner::State {
  explicit State(const PlannedCycle* planned)
      : plan(*planned),
        body(*planned),
        posture(planned->model().ReferencePosture()),
        loaded(static_cast<std::size_t>(planned->model().foot_count())) {
    cost.foot_count = static_cast<int>(std::min<Index>(kMostFeet, plan.model().foot_count()));
    // A linear problem but for the turn of the feet: the second step ends it.
    solver.options.max_num_iterations = 4;
    solver.options.initial_trust_region_radius = 1e12;
  }

  // Feet in the body frame, and whether each bears load.
  void ReadLegs(const LegSample& sample);
  void Plan(const LegSample& sample);
  Vector3d Place(std::size_t index) const;

  const PlannedCycle& plan;
  PlannedBody body;
  Eigen::VectorXd posture;  // coordinates of the model with the body frame at 0
  std::vector<bool> loaded;
  std::array<bool, kMostFeet> was_loaded{};
  FootKinematics foot{};
  StepCost cost{};
  ceres::TinySolver<StepCost> solver{};
  Pose pose = Pose::Zero();
  bool is_first = true;
  double last_s = 0.0;
  double last_phase = -1.0;
};

void DeadReckoner::State::ReadLegs(const LegSample& sample) {
  const bool is_played = IsPlayed(sample.phase_ratio);
  const Index drives = plan.model().drive_count();
  for (Index i = 0; i < drives; ++i) {
    const auto k = static_cast<std::size_t>(i);
    const double measured =
        k < sample.leg_position_m.size() ? sample.leg_position_m[k] : std::nan("");
    if (std::isfinite(measured)) {
      posture[6 + i] = measured;
    } else if (is_played) {
      posture[6 + i] = plan.LegPosition(i, sample.phase_ratio);
    }  // else as it was
  }
  posture.head<6>().setZero();
  for (int i = 0; i < cost.foot_count; ++i) {
    const auto k = static_cast<std::size_t>(i);
    plan.model().EvaluateFoot(posture, i, false, &foot);
    cost.point[k] = foot.position;
    const double sensed = k < sample.contact_ratio.size() ? sample.contact_ratio[k] : std::nan("");
    loaded[k] =
        std::isfinite(sensed) ? sensed > 0.5 : !is_played || plan.IsLoaded(sample.phase_ratio, i);
  }
}

// What the plan says of this step.
void DeadReckoner::State::Plan(const LegSample& sample) {
  const double interval_s = sample.time_s - last_s;
  cost.last = pose;
  cost.motion.setZero();
  cost.posture_weight.setZero();
  if (IsPlayed(sample.phase_ratio)) {
    const Pose now = body.At(sample.phase_ratio);
    cost.posture = now.segment<3>(2);
    cost.posture_weight << 1.0 / kPlanHeightM, 1.0 / kPlanTiltRad, 1.0 / kPlanTiltRad;
    if (IsPlayed(last_phase)) {
      const double part = WrapPhase(sample.phase_ratio - last_phase);
      const double whole = std::round(interval_s / plan.period_s() - part);
      cost.motion =
          MotionBetween(body.At(last_phase), body.At(last_phase + part + std::max(0.0, whole)));
    }
  }
  const double root = std::sqrt(interval_s);
  cost.motion_weight.head<3>().setConstant(1.0 / (kPlanMPerRootS * root));
  cost.motion_weight.tail<3>().setConstant(1.0 / (kPlanRadPerRootS * root));
  cost.slip_weight = 1.0 / (kSlipMPerRootS * root);
}

Vector3d DeadReckoner::State::Place(std::size_t index) const {
  Attitude attitude;
  EvaluateAttitude(pose.tail<3>(), AttitudeOrder::kValue, &attitude);
  return pose.head<3>() + attitude.rotation * cost.point[index];
}

DeadReckoner::DeadReckoner(const PlannedCycle* plan) : state_(std::make_unique<State>(plan)) {}
DeadReckoner::DeadReckoner(DeadReckoner&&) noexcept = default;
DeadReckoner& DeadReckoner::operator=(DeadReckoner&&) noexcept = default;
DeadReckoner::~DeadReckoner() = default;

const Pose& DeadReckoner::Add(const LegSample& sample) {
  State& state = *state_;
  state.ReadLegs(sample);
  if (state.is_first) {
    const Pose start = state.body.At(IsPlayed(sample.phase_ratio) ? sample.phase_ratio : 0.0);
    state.pose.segment<3>(2) = start.segment<3>(2);
    state.is_first = false;
  } else {
    state.Plan(sample);
    for (std::size_t k = 0; k < kMostFeet; ++k) {
      state.cost.stands[k] = k < state.loaded.size() && state.loaded[k] && state.was_loaded[k];
    }
    Pose next = Moved(state.pose, state.cost.motion);
    state.solver.Solve(state.cost, &next);
    if (next.allFinite()) {
      state.pose = next;
    }
  }
  for (std::size_t k = 0; k < static_cast<std::size_t>(state.cost.foot_count); ++k) {
    state.was_loaded[k] = state.loaded[k];
    state.cost.anchor[k] = state.Place(k);
    state.cost.anchor[k][2] = 0.0;  // the surface
  }
  state.last_s = sample.time_s;
  state.last_phase = sample.phase_ratio;
  return state.pose;
}

}  // namespace gaitshelf::solver
