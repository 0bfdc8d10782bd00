#include "solver/plan/soft_blocks.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "solver/plan/plan_block.h"

namespace gaitshelf::solver {
namespace {

// Soft terms and limits of a knot's controls alone.
class ControlBlock final : public PlanBlock {
 public:
  ControlBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    SetSizes(first_load_row() + problem().load_target.rows(), {problem().control_count()});
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    Eigen::Map<Eigen::VectorXd> rows = Rows(residuals);
    const bool is_wanted = IsWanted(jacobians, 0);
    Eigen::Map<RowMatrix> jacobian = ZeroedOrEmpty(jacobians, 0);
    FillDrives(is_wanted, &rows, &jacobian);
    FillFeet(is_wanted, &rows, &jacobian);
    FillLoads(is_wanted, &rows, &jacobian);
    return true;
  }

 private:
  // Two rows a drive and five a foot come before.
  Eigen::Index first_load_row() const {
    return 2 * problem().drive_count() + 5 * problem().foot_count();
  }

  // Where sliding is forbidden its price grows with the penalty: a law without multipliers.
  double SlipWeight() const {
    const ContactScale& scale = problem().contact;
    return std::hypot(problem().weights.slip * soft_scale(),
                      std::sqrt(problem().sticking_penalty_ratio * state().penalty) /
                          (scale.force * scale.speed));
  }

  void FillDrives(bool is_wanted,
                  Eigen::Map<Eigen::VectorXd>* rows,
                  Eigen::Map<RowMatrix>* jacobian) const {
    const double penalty = problem().limit_penalty_ratio * state().penalty;
    const double effort = problem().weights.effort * soft_scale();
    for (Eigen::Index d = 0; d < problem().drive_count(); ++d) {
      const double u = unknowns().controls(d, knot());
      const Drive& drive = model().drives()[static_cast<size_t>(d)];
      (*rows)(2 * d) = effort * u;
      const double limit = drive.is_present
                               ? LimitRow(u,
                                          drive.lower + problem().drive_margin,
                                          drive.upper - problem().drive_margin,
                                          state().drive_multiplier(d, knot()) / penalty)
                               : 0.0;
      (*rows)(2 * d + 1) = std::sqrt(penalty) * limit;
      if (is_wanted) {
        (*jacobian)(2 * d, d) = effort;
        (*jacobian)(2 * d + 1, d) = limit != 0.0 ? std::sqrt(penalty) : 0.0;
      }
    }
  }

  void FillFeet(bool is_wanted,
                Eigen::Map<Eigen::VectorXd>* rows,
                Eigen::Map<RowMatrix>* jacobian) const {
    const PlanWeights& weights = problem().weights;
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      const Eigen::Index row = 2 * problem().drive_count() + 5 * i;
      const Eigen::Index at = problem().foot_control(i);
      const double slip = SlipWeight();
      const double normal = unknowns().controls(at, knot());
      const double speed = unknowns().controls(at + 3, knot());
      for (Eigen::Index j = 0; j < 4; ++j) {
        const double weight = (j < 3 ? weights.force : weights.sliding_speed) * soft_scale();
        (*rows)(row + j) = weight * unknowns().controls(at + j, knot());
        if (is_wanted) {
          (*jacobian)(row + j, at + j) = weight;
        }
      }
      (*rows)(row + 4) = slip * normal * speed;
      if (is_wanted) {
        (*jacobian)(row + 4, at) = slip * speed;
        (*jacobian)(row + 4, at + 3) = slip * normal;
      }
    }
  }

  void FillLoads(bool is_wanted,
                 Eigen::Map<Eigen::VectorXd>* rows,
                 Eigen::Map<RowMatrix>* jacobian) const {
    const double weight = problem().weights.load * soft_scale();
    for (Eigen::Index i = 0; i < problem().load_target.rows(); ++i) {
      const Eigen::Index at = problem().foot_control(i);
      const double lack = problem().load_target(i, knot()) - unknowns().controls(at, knot());
      const bool is_active = problem().load_target(i, knot()) > 0.0 && lack > 0.0;
      (*rows)(first_load_row() + i) = is_active ? weight * lack : 0.0;
      if (is_wanted && is_active) {
        (*jacobian)(first_load_row() + i, at) = -weight;
      }
    }
  }
};

// Soft terms and limits of a knot's coordinates alone.
class PostureBlock final : public PlanBlock {
 public:
  PostureBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    const Eigen::Index base = model().base_count();
    // base: one row each, then leg coordinates against the target and their limits, then clearance.
    SetSizes(base + 2 * problem().drive_count() + problem().foot_count(),
             {problem().coordinate_count()});
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    Eigen::Map<Eigen::VectorXd> rows = Rows(residuals);
    const bool is_wanted = IsWanted(jacobians, 0);
    Eigen::Map<RowMatrix> jacobian = ZeroedOrEmpty(jacobians, 0);
    FillBase(is_wanted, &rows, &jacobian);
    FillLegs(is_wanted, &rows, &jacobian);
    FillClearance(is_wanted, &rows, &jacobian);
    return true;
  }

 private:
  void FillBase(bool is_wanted,
                Eigen::Map<Eigen::VectorXd>* rows,
                Eigen::Map<RowMatrix>* jacobian) const {
    if (model().base_count() == 0) {
      return;
    }
    const PlanWeights& weights = problem().weights;
    const double start = problem().is_periodic && knot() == 0 ? weights.start / soft_scale() : 0.0;
    const Eigen::Array<double, 6, 1> weight = soft_scale() * (Eigen::Array<double, 6, 1>() << start,
                                                              weights.sideways,
                                                              weights.height,
                                                              weights.attitude,
                                                              weights.attitude,
                                                              weights.attitude)
                                                                 .finished();
    for (Eigen::Index j = 0; j < 6; ++j) {
      (*rows)(j) =
          weight(j) * (unknowns().coordinates(j, knot()) - problem().posture_target(j, knot()));
      if (is_wanted) {
        (*jacobian)(j, j) = weight(j);
      }
    }
  }

  void FillLegs(bool is_wanted,
                Eigen::Map<Eigen::VectorXd>* rows,
                Eigen::Map<RowMatrix>* jacobian) const {
    const double penalty = problem().limit_penalty_ratio * state().penalty;
    const double weight = problem().weights.legs * soft_scale();
    for (Eigen::Index d = 0; d < problem().drive_count(); ++d) {
      const Eigen::Index at = model().base_count() + d;
      const Eigen::Index row = model().base_count() + 2 * d;
      const double y = unknowns().coordinates(at, knot());
      const Travel& travel = model().travels()[static_cast<size_t>(d)];
      const double limit = LimitRow(y,
                                    travel.lower + problem().travel_margin,
                                    travel.upper - problem().travel_margin,
                                    state().travel_multiplier(d, knot()) / penalty);
      (*rows)(row) = weight * (y - problem().posture_target(at, knot()));
      (*rows)(row + 1) = std::sqrt(penalty) * limit;
      if (is_wanted) {
        (*jacobian)(row, at) = weight;
        (*jacobian)(row + 1, at) = limit != 0.0 ? std::sqrt(penalty) : 0.0;
      }
    }
  }

  void FillClearance(bool is_wanted,
                     Eigen::Map<Eigen::VectorXd>* rows,
                     Eigen::Map<RowMatrix>* jacobian) const {
    const double weight = problem().weights.clearance * soft_scale();
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      const Eigen::Index row = model().base_count() + 2 * problem().drive_count() + i;
      const FootKinematics& foot = evaluation().foot(knot(), i);
      const double lack = problem().clearance_target(i, knot()) - foot.position.z();
      const bool is_active = problem().clearance_target(i, knot()) > 0.0 && lack > 0.0;
      (*rows)(row) = is_active ? weight * lack : 0.0;
      if (is_wanted && is_active) {
        jacobian->row(row) = -weight * foot.jacobian.row(2);
      }
    }
  }
};

// Second differences of all coordinates but the travel: along x, and in a cycle that turns along y.
class AccelerationBlock final : public PlanBlock {
 public:
  AccelerationBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    const Eigen::Index n = problem().coordinate_count();
    SetSizes(n - Skipped(), {n, n, n});
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    const Eigen::Index n = problem().coordinate_count();
    const Eigen::MatrixXd& q = unknowns().coordinates;
    const double factor = problem().weights.acceleration * soft_scale() /
                          (problem().knot_period * problem().knot_period);
    Rows(residuals) = factor * (q.col(problem().knot_after(knot())) - 2.0 * q.col(knot()) +
                                q.col(problem().knot_before(knot())))
                                   .tail(n - Skipped());
    AddClosing(factor, residuals);
    for (size_t block = 0; block < 3; ++block) {
      if (IsWanted(jacobians, block)) {
        Zeroed(jacobians, block)
            .rightCols(n - Skipped())
            .diagonal()
            .setConstant(block == 1 ? -2.0 * factor : factor);
      }
    }
    return true;
  }

 private:
  Eigen::Index Skipped() const {
    return model().base_count() > 0 ? (problem().turn != 0.0 ? 2 : 1) : 0;
  }
  // Where the cycle closes the neighbour is the first or last knot moved on or back.
  void AddClosing(double factor, double* residuals) const {
    const double direction = !problem().is_periodic               ? 0.0
                             : knot() == 0                        ? -1.0
                             : knot() == problem().knot_count - 1 ? 1.0
                                                                  : 0.0;
    constexpr Eigen::Index kSide = 1;
    constexpr Eigen::Index kYaw = 5;
    if (direction == 0.0 || model().base_count() == 0) {
      return;
    }
    if (problem().turn != 0.0) {
      residuals[kYaw - Skipped()] += direction * factor * problem().turn;
    } else {
      residuals[kSide - Skipped()] += direction * factor * problem().sidestep;
    }
  }
};

// Alternating part of each drive, weighed by its capacitance. Parameters: controls, mean drives.
class AlternationBlock final : public PlanBlock {
 public:
  AlternationBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    const Eigen::Index drives = problem().drive_count();
    SetSizes(drives, {problem().control_count(), drives});
    double greatest_f = 0.0;
    for (const Drive& drive : model().drives()) {
      greatest_f = std::max(greatest_f, drive.is_present ? drive.capacitance_f : 0.0);
    }
    for (const Drive& drive : model().drives()) {
      // One that nobody knows counts as the greatest: as nothing, its drive would be free.
      const double share = drive.capacitance_f > 0.0 ? drive.capacitance_f / greatest_f : 1.0;
      weights_.push_back(
          drive.is_present ? problem().weights.alternation * std::sqrt(share) * soft_scale() : 0.0);
    }
  }

  bool Evaluate(double const* const* parameters,
                double* residuals,
                double** jacobians) const override {
    for (size_t d = 0; d < weights_.size(); ++d) {
      residuals[d] = weights_[d] * (parameters[0][d] - parameters[1][d]);
    }
    for (size_t block = 0; block < 2; ++block) {
      if (IsWanted(jacobians, block)) {
        Eigen::Map<RowMatrix> map = Zeroed(jacobians, block);
        for (size_t d = 0; d < weights_.size(); ++d) {
          map(static_cast<Eigen::Index>(d), static_cast<Eigen::Index>(d)) =
              block == 0 ? weights_[d] : -weights_[d];
        }
      }
    }
    return true;
  }

 private:
  std::vector<double> weights_;
};

// What each drive exceeds the common bound by. Parameters: controls, bound.
class PeakBlock final : public PlanBlock {
 public:
  PeakBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    SetSizes(problem().drive_count(), {problem().control_count(), 1});
  }

  bool Evaluate(double const* const* parameters,
                double* residuals,
                double** jacobians) const override {
    // Steep against the price of the bound, so that it is kept to a hundredth.
    constexpr double kSteepness = 100.0;
    const double weight = kSteepness * problem().weights.peak_drive * soft_scale();
    const bool by_controls = IsWanted(jacobians, 0);
    const bool by_bound = IsWanted(jacobians, 1);
    Eigen::Map<RowMatrix> controls = ZeroedOrEmpty(jacobians, 0);
    Eigen::Map<RowMatrix> bound = ZeroedOrEmpty(jacobians, 1);
    for (Eigen::Index d = 0; d < problem().drive_count(); ++d) {
      const double u = parameters[0][d];
      const bool is_present = model().drives()[static_cast<size_t>(d)].is_present;
      const double excess = is_present ? std::abs(u) - parameters[1][0] : 0.0;
      residuals[d] = excess > 0.0 ? weight * excess : 0.0;
      if (by_controls && excess > 0.0) {
        controls(d, d) = u > 0.0 ? weight : -weight;
      }
      if (by_bound && excess > 0.0) {
        bound(d, 0) = -weight;
      }
    }
    return true;
  }
};

// One soft row on one entry of one parameter block: weight * (value - target).
class EntryBlock final : public ceres::CostFunction {
 public:
  EntryBlock(Eigen::Index size, Eigen::Index entry, double weight, double target)
      : entry_(entry), weight_(weight), target_(target) {
    set_num_residuals(1);
    mutable_parameter_block_sizes()->push_back(static_cast<int>(size));
  }

  bool Evaluate(double const* const* parameters,
                double* residuals,
                double** jacobians) const override {
    residuals[0] = weight_ * (parameters[0][entry_] - target_);
    if (jacobians != nullptr && jacobians[0] != nullptr) {
      std::fill_n(jacobians[0], parameter_block_sizes()[0], 0.0);
      jacobians[0][entry_] = weight_;
    }
    return true;
  }

 private:
  Eigen::Index entry_;
  double weight_;
  double target_;
};

}  // namespace

void AddControlBlock(const PlanEvaluation* evaluation,
                     const PenaltyState* state,
                     int k,
                     PlanUnknowns* unknowns,
                     ceres::Problem* ceres_problem) {
  ceres_problem->AddResidualBlock(
      new ControlBlock(evaluation, state, k), nullptr, unknowns->controls.col(k).data());
}

void AddPostureBlock(const PlanEvaluation* evaluation,
                     const PenaltyState* state,
                     int k,
                     PlanUnknowns* unknowns,
                     ceres::Problem* ceres_problem) {
  ceres_problem->AddResidualBlock(
      new PostureBlock(evaluation, state, k), nullptr, unknowns->coordinates.col(k).data());
}

void AddAccelerationBlock(const PlanEvaluation* evaluation,
                          const PenaltyState* state,
                          int k,
                          PlanUnknowns* unknowns,
                          ceres::Problem* ceres_problem) {
  const PlanProblem& problem = evaluation->problem();
  ceres_problem->AddResidualBlock(new AccelerationBlock(evaluation, state, k),
                                  nullptr,
                                  unknowns->coordinates.col(problem.knot_before(k)).data(),
                                  unknowns->coordinates.col(k).data(),
                                  unknowns->coordinates.col(problem.knot_after(k)).data());
}

void AddAlternationBlock(const PlanEvaluation* evaluation,
                         const PenaltyState* state,
                         int k,
                         PlanUnknowns* unknowns,
                         ceres::Problem* ceres_problem) {
  ceres_problem->AddResidualBlock(new AlternationBlock(evaluation, state, k),
                                  nullptr,
                                  unknowns->controls.col(k).data(),
                                  unknowns->mean_drive.data());
}

void AddPeakBlock(const PlanEvaluation* evaluation,
                  const PenaltyState* state,
                  int k,
                  PlanUnknowns* unknowns,
                  ceres::Problem* ceres_problem) {
  ceres_problem->AddResidualBlock(new PeakBlock(evaluation, state, k),
                                  nullptr,
                                  unknowns->controls.col(k).data(),
                                  &unknowns->peak_drive);
}

void AddEntryBlock(double* parameters,
                   Eigen::Index size,
                   Eigen::Index entry,
                   double weight,
                   double target,
                   ceres::Problem* ceres_problem) {
  ceres_problem->AddResidualBlock(new EntryBlock(size, entry, weight, target), nullptr, parameters);
}

}  // namespace gaitshelf::solver
