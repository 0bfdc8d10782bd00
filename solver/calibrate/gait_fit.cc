#include "solver/calibrate/gait_fit.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <memory>
#include <random>
#include <utility>

#include <Eigen/Cholesky>
#include <Eigen/QR>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/gait_marks.h"
#include "solver/replay/parallel.h"
#include "solver/replay/record.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Rounds of drawing, solving and drawing closer.
constexpr int kRounds = 4;
// Draws of a round for each unknown. They come in pairs on both sides of the centre, so that
// curvature does not lean the plane.
constexpr int kDrawsPerUnknown = 3;
constexpr int kLeastPairs = 20;
// A solution further from the centre than this, in the deviations that were drawn with, is not
// believed to the end.
constexpr double kMostStep = 2.5;
// Cycles that a replay settles for, and those that are measured then.
constexpr int kSettlingCycles = 2;
constexpr int kMeasuredCycles = 3;
constexpr int kLeastTrialCycles = 5;
// Marks of a log without noise are known to this share of their size.
constexpr double kLeastMarkRatio = 1e-6;
constexpr double kFrequencyRatio = 1e-3;

// A trial's marks as measured, and how to get the same ones from a replay.
struct Observed {
  GaitTrial trial;
  std::unique_ptr<PlannedCycle> plan;
  GaitMarks marks;
  MarkMeans means;
  Index first = 0;  // row of its first mark among those of all trials
};

absl::StatusOr<Observed> Observe(const GaitTrial& trial, const GaitUnknowns& unknowns) {
  const double played_hz = trial.table->trial().stride_frequency_hz();
  const double planned_hz = trial.gait->stride_frequency_hz();
  if (!(std::abs(played_hz - planned_hz) <= kFrequencyRatio * planned_hz)) {
    return absl::InvalidArgumentError(absl::StrFormat(
        "was played at %g Hz, and the gait is planned for %g Hz; calibrate by a trial at that",
        played_hz,
        planned_hz));
  }
  const VectorXd none = VectorXd::Zero(unknowns.count());
  GAITSHELF_ASSIGN_OR_RETURN(PlannedCycle plan,
                             PlannedCycle::Create({.robot = unknowns.RobotOf(none),
                                                   .surface = unknowns.SurfaceOf(none),
                                                   .gait = *trial.gait}));
  Observed observed{.trial = trial, .plan = {}, .marks = {}, .means = {}};
  observed.plan = std::make_unique<PlannedCycle>(std::move(plan));
  GAITSHELF_ASSIGN_OR_RETURN(
      observed.marks,
      MarkTrial(*trial.table, *trial.gait, *observed.plan, kSettlingCycles, kLeastTrialCycles));
  observed.means = MeansOf(observed.marks);
  return observed;
}

// Draws as a matrix, a column a draw, in deviations; the second half mirrors the first.
MatrixXd DrawPairs(Index unknown_count, int round) {
  std::mt19937 generator(static_cast<unsigned>(round + 1));
  std::normal_distribution<double> normal;
  const Index pairs = std::max<Index>(kLeastPairs, kDrawsPerUnknown * unknown_count / 2);
  MatrixXd draws(unknown_count, 2 * pairs);
  for (double& value : draws.leftCols(pairs).reshaped()) {
    value = normal(generator);
  }
  draws.rightCols(pairs) = -draws.leftCols(pairs);
  return draws;
}

// Marks as a plane over the draws: mean + slopes * draw, and what single replays are off by.
struct Plane {
  VectorXd mean;
  MatrixXd slopes;     // marks x unknowns
  VectorXd roughness;  // variance about the plane
};

class GaitFitter {
 public:
  GaitFitter(const GaitFitRequest& request, std::vector<Observed> observed)
      : request_(request), unknowns_(*request.unknowns), observed_(std::move(observed)) {
    Stack();
  }

  absl::StatusOr<GaitFit> Run();

 private:
  void Stack();
  absl::StatusOr<MatrixXd> ReplayAll(const MatrixXd& logs, double done_ratio);
  absl::Status ReplayOne(const VectorXd& logs, Eigen::Ref<VectorXd> marks) const;
  absl::StatusOr<Plane> LayPlane(const MatrixXd& draws, const MatrixXd& marks) const;
  void Solve(const Plane& plane, bool is_last);
  void Report(const VectorXd& left);

  const GaitFitRequest& request_;
  const GaitUnknowns& unknowns_;
  std::vector<Observed> observed_;
  VectorXd measured_;  // all marks of all trials
  VectorXd variance_;  // of them; infinite for a mark that says nothing
  // Draws are center_ + spread_ * (normal deviates).
  VectorXd center_;
  MatrixXd spread_;
  GaitFit fit_;
};

void GaitFitter::Stack() {
  Index count = 0;
  for (Observed& one : observed_) {
    one.first = count;
    count += one.means.mean.size();
  }
  measured_.resize(count);
  variance_.resize(count);
  for (const Observed& one : observed_) {
    for (Index i = 0; i < one.means.mean.size(); ++i) {
      const double mean = one.means.mean[i];
      const double least = kLeastMarkRatio * std::abs(mean);
      const bool is_known = one.means.count[i] >= kLeastTrialCycles;
      measured_[one.first + i] = is_known ? mean : kNan;
      variance_[one.first + i] = std::max(one.means.variance[i], least * least);
    }
  }
}

absl::Status GaitFitter::ReplayOne(const VectorXd& logs, Eigen::Ref<VectorXd> marks) const {
  const v1::Robot robot = unknowns_.RobotOf(logs);
  const v1::Surface surface = unknowns_.SurfaceOf(logs);
  for (const Observed& one : observed_) {
    GAITSHELF_ASSIGN_OR_RETURN(const Recording recording,
                               RecordReplay({.robot = robot,
                                             .surface = surface,
                                             .gait = *one.trial.gait,
                                             .cycle_count = kSettlingCycles + kMeasuredCycles,
                                             .stop = request_.stop}));
    if (!recording.simulated.trouble.empty()) {
      continue;  // its marks stay unknown
    }
    GAITSHELF_ASSIGN_OR_RETURN(
        const GaitMarks replayed,
        MarkReplay(recording, robot, *one.trial.gait, *one.plan, kSettlingCycles));
    const MarkMeans means = MeansOf(replayed);
    for (const MarkChannel& wanted : one.marks.channels) {
      for (const MarkChannel& channel : replayed.channels) {
        if (channel.name == wanted.name) {
          marks.segment(one.first + wanted.first, wanted.count) =
              means.mean.segment(channel.first, channel.count);
        }
      }
    }
  }
  return absl::OkStatus();
}

absl::StatusOr<MatrixXd> GaitFitter::ReplayAll(const MatrixXd& logs, double done_ratio) {
  MatrixXd marks = MatrixXd::Constant(measured_.size(), logs.cols(), kNan);
  // In portions, so that progress is seen.
  const int portion = 8 * std::max(1, request_.thread_count);
  for (Index first = 0; first < logs.cols(); first += portion) {
    const auto count = static_cast<int>(std::min<Index>(portion, logs.cols() - first));
    GAITSHELF_RETURN_IF_ERROR(RunPieces(count, request_.thread_count, [&](int i) {
      return ReplayOne(logs.col(first + i), marks.col(first + i));
    }));
    if (request_.on_progress) {
      const double share = static_cast<double>(first + count) / static_cast<double>(logs.cols());
      request_.on_progress(done_ratio + share / kRounds);
    }
  }
  return marks;
}

absl::StatusOr<Plane> GaitFitter::LayPlane(const MatrixXd& draws, const MatrixXd& marks) const {
  std::vector<Index> whole;
  for (Index i = 0; i < marks.cols(); ++i) {
    if (marks.col(i).array().isFinite().all()) {
      whole.push_back(i);
    }
  }
  const Index parameters = 1 + draws.rows();
  const auto count = static_cast<Index>(whole.size());
  if (2 * count < marks.cols() || count <= parameters) {
    return absl::FailedPreconditionError(
        absl::StrCat(marks.cols() - count,
                     " of ",
                     marks.cols(),
                     " robots drawn about the description fall with this gait; calibrate by bench "
                     "tests of the legs first, or by a slower gait"));
  }
  MatrixXd design(count, parameters);
  design.col(0).setOnes();
  design.rightCols(draws.rows()) = draws(Eigen::all, whole).transpose();
  const MatrixXd values = marks(Eigen::all, whole).transpose();
  const MatrixXd solution = Eigen::ColPivHouseholderQR<MatrixXd>(design).solve(values);
  Plane plane{.mean = solution.row(0).transpose(),
              .slopes = solution.bottomRows(draws.rows()).transpose(),
              .roughness = {}};
  plane.roughness = (values - design * solution).colwise().squaredNorm().transpose() /
                    static_cast<double>(count - parameters);
  // The plane itself is known from so many draws only.
  plane.roughness *= 1.0 + static_cast<double>(parameters) / static_cast<double>(count);
  return plane;
}

// In the deviations z that were drawn with: prior center + spread z ~ N(0, prior^2), marks
// mean + slopes z ~ N(measured, variance + roughness). Normal in all, so one linear solve.
void GaitFitter::Solve(const Plane& plane, bool is_last) {
  const VectorXd prior_precision = unknowns_.prior().array().square().inverse();
  MatrixXd precision = spread_.transpose() * prior_precision.asDiagonal() * spread_;
  VectorXd right = -spread_.transpose() * prior_precision.cwiseProduct(center_);
  const VectorXd weight =
      (measured_.array().isFinite()).select((variance_ + plane.roughness).array().inverse(), 0.0);
  const VectorXd off = (weight.array() > 0.0).select(measured_ - plane.mean, 0.0);
  precision += plane.slopes.transpose() * weight.asDiagonal() * plane.slopes;
  right += plane.slopes.transpose() * weight.cwiseProduct(off);
  const Eigen::LDLT<MatrixXd> factors(precision);
  VectorXd z = factors.solve(right);
  MatrixXd covariance =
      spread_ * factors.solve(MatrixXd::Identity(z.size(), z.size())) * spread_.transpose();
  covariance = 0.5 * (covariance + covariance.transpose()).eval();
  const double furthest = z.lpNorm<Eigen::Infinity>();
  if (furthest > kMostStep) {
    z *= kMostStep / furthest;
  }
  center_ += spread_ * z;
  if (!is_last) {
    // What curvature leaves over shrinks with the square of the spread, so each round knows more.
    spread_ = covariance.llt().matrixL();
    return;
  }
  const VectorXd left = off - plane.slopes * z;
  const double marks = (weight.array() > 0.0).cast<double>().sum();
  // Of the unknowns as many as the marks tell use up a mark each.
  const double told = (1.0 - covariance.diagonal().array() * prior_precision.array()).sum();
  fit_.degrees_of_freedom = std::max(1.0, marks - told);
  const double chi_square = left.cwiseProduct(left).dot(weight);
  fit_.birge_ratio = std::max(1.0, std::sqrt(chi_square / fit_.degrees_of_freedom));
  fit_.estimate = center_;
  fit_.covariance = fit_.birge_ratio * fit_.birge_ratio * covariance;
  Report(left);
}

void GaitFitter::Report(const VectorXd& left) {
  for (const Observed& one : observed_) {
    for (const MarkChannel& channel : one.marks.channels) {
      const auto root_mean_square = [&](const VectorXd& of) {
        return std::sqrt(of.segment(one.first + channel.first, channel.count).squaredNorm() /
                         static_cast<double>(channel.count));
      };
      fit_.channels.push_back({.trial = one.trial.table->trial().name(),
                               .channel = channel.name,
                               .unit = channel.unit,
                               .cycle_count = one.means.count[channel.first],
                               .residual_si = root_mean_square(left),
                               .signal_si = root_mean_square(measured_)});
    }
  }
}

absl::StatusOr<GaitFit> GaitFitter::Run() {
  center_.setZero(unknowns_.count());
  spread_ = unknowns_.prior().asDiagonal();
  for (int round = 0; round < kRounds; ++round) {
    const MatrixXd draws = DrawPairs(unknowns_.count(), round);
    MatrixXd logs = spread_ * draws;
    logs.colwise() += center_;
    GAITSHELF_ASSIGN_OR_RETURN(const MatrixXd marks,
                               ReplayAll(logs, static_cast<double>(round) / kRounds));
    fit_.replay_count += static_cast<int>(logs.cols());
    fit_.fallen_count +=
        static_cast<int>((!marks.array().isFinite()).colwise().any().cast<int>().sum());
    GAITSHELF_ASSIGN_OR_RETURN(const Plane plane, LayPlane(draws, marks));
    Solve(plane, round + 1 == kRounds);
  }
  return std::move(fit_);
}

}  // namespace

absl::StatusOr<GaitFit> FitGaits(const GaitFitRequest& request) {
  std::vector<Observed> observed;
  for (const GaitTrial& trial : request.trials) {
    absl::StatusOr<Observed> one = Observe(trial, *request.unknowns);
    if (!one.ok()) {
      return absl::Status(
          one.status().code(),
          absl::StrCat("trial '", trial.table->trial().name(), "' ", one.status().message()));
    }
    observed.push_back(*std::move(one));
  }
  return GaitFitter(request, std::move(observed)).Run();
}

}  // namespace gaitshelf::solver
