#include "solver/calibrate/leg_fit.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/QR>

#include "absl/types/span.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/least_squares.h"
#include "solver/calibrate/leg_response.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Before the data stiffness and gain may be off by a factor of two, damping by more: it is rarely
// described from more than experience (own choice).
constexpr double kWidePrior = 0.7;
constexpr double kDampingPrior = 1.5;
// Keeps a mass that is described as exact from making the prior infinitely strong.
constexpr double kLeastMassPrior = 1e-5;
// Logarithms beyond this are another leg.
constexpr double kMostLog = 2.5;
// Stiffness is looked for between a third and three times the described one. A ring-down of n
// cycles tells frequencies apart that differ by about 1 / (2 n); steps of 2 % in stiffness, 1 % in
// frequency, find the right one for up to fifty cycles, which few legs ring for.
constexpr double kSearchStep = 0.02;
constexpr int kSearchSteps = 55;

// One measured coordinate of one record.
struct Channel {
  std::size_t record = 0;
  std::size_t axis = 0;
  std::vector<Index> rows;  // that are not missing
  double deviation = 1.0;   // that its residuals are weighed with, m
};

class LegProblem {
 public:
  explicit LegProblem(const LegFitRequest& request) : request_(request) {
    for (std::size_t i = 0; i < request.records.size(); ++i) {
      for (std::size_t axis = 0; axis < 2; ++axis) {
        AddChannel(i, axis);
      }
    }
    prior_ = VectorXd::Constant(LegUnknown::kCount, kWidePrior);
    prior_.segment(LegUnknown::kDamping, 2).setConstant(kDampingPrior);
    prior_[LegUnknown::kMass] = std::max(request.mass_ratio, kLeastMassPrior);
  }

  Index residual_count() const { return row_count_ + LegUnknown::kCount; }
  const VectorXd& prior() const { return prior_; }
  std::vector<Channel>& channels() { return channels_; }

  // Residuals of all channels one after the other, over their deviations, then those of the prior.
  // Initial values and offsets are solved for, and in a search the gains too.
  bool Residuals(const VectorXd& unknowns, bool with_gains, VectorXd* residuals) const {
    if (unknowns.cwiseAbs().maxCoeff() > kMostLog) {
      return false;
    }
    residuals->resize(residual_count());
    Index at = 0;
    for (std::size_t i = 0; i < request_.records.size(); ++i) {
      at += RecordResiduals(
          i, FactorsOf(unknowns), with_gains, residuals->tail(residuals->size() - at));
    }
    residuals->tail(LegUnknown::kCount) = unknowns.cwiseQuotient(prior_);
    return true;
  }

 private:
  void AddChannel(std::size_t record, std::size_t axis) {
    const std::vector<double>* values = request_.records[record].position_m[axis];
    if (values == nullptr) {
      return;
    }
    Channel channel{.record = record, .axis = axis, .rows = {}};
    double sum = 0.0, squares = 0.0;
    for (std::size_t row = 0; row < request_.records[record].row_count(); ++row) {
      const double value = (*values)[row];
      if (std::isfinite(value)) {
        channel.rows.push_back(static_cast<Index>(row));
        sum += value;
        squares += value * value;
      }
    }
    if (channel.rows.empty()) {
      return;
    }
    const auto count = static_cast<double>(channel.rows.size());
    channel.deviation =
        std::max(std::sqrt(std::max(0.0, squares / count - sum / count * sum / count)),
                 std::numeric_limits<double>::min());
    row_count_ += static_cast<Index>(channel.rows.size());
    channels_.push_back(std::move(channel));
  }

  Index RecordResiduals(std::size_t index,
                        const LegFactors& factors,
                        bool with_gains,
                        Eigen::Ref<VectorXd> residuals) const {
    std::vector<const Channel*> channels;
    Index rows = 0;
    for (const Channel& channel : channels_) {
      if (channel.record == index) {
        channels.push_back(&channel);
        rows += static_cast<Index>(channel.rows.size());
      }
    }
    const LegResponse response = Respond(*request_.leg, factors, request_.records[index]);
    const Index offsets = static_cast<Index>(channels.size());
    const Index free_count = 4 + offsets + (with_gains ? 2 : 0);
    MatrixXd free = MatrixXd::Zero(rows, free_count);
    VectorXd target(rows);
    Index at = 0;
    for (std::size_t c = 0; c < channels.size(); ++c) {
      const Channel& channel = *channels[c];
      const MatrixXd& motion = response.motion[channel.axis];
      const std::vector<double>& values = *request_.records[index].position_m[channel.axis];
      for (const Index row : channel.rows) {
        const auto moved = motion.row(row);
        double left = values[static_cast<std::size_t>(row)] - moved[LegResponse::kForce];
        free.row(at).head<4>() = moved.head<4>() / channel.deviation;
        free(at, 4 + static_cast<Index>(c)) = 1.0 / channel.deviation;
        if (with_gains) {
          free.row(at).tail<2>() = moved.segment<2>(LegResponse::kDrive) / channel.deviation;
        } else {
          left -= factors.gain[0] * moved[LegResponse::kDrive] +
                  factors.gain[1] * moved[LegResponse::kDrive + 1];
        }
        target[at++] = left / channel.deviation;
      }
    }
    // Columns of rates are as large as a period and of positions as one: bring them together, or
    // the rank is misjudged.
    for (Index k = 0; k < free_count; ++k) {
      const double norm = free.col(k).norm();
      free.col(k) /= norm > 0.0 ? norm : 1.0;
    }
    const Eigen::ColPivHouseholderQR<MatrixXd> qr(free);
    residuals.head(rows) = target - free * qr.solve(target);
    return rows;
  }

  const LegFitRequest& request_;
  std::vector<Channel> channels_;
  Index row_count_ = 0;
  VectorXd prior_;
};

bool IsStopped(const LegFitRequest& request) {
  return request.stop != nullptr && request.stop->load(std::memory_order_relaxed);
}

// Looks for the stiffness of both coordinates, where a descent would stop a period off.
VectorXd Search(const LegProblem& problem, const LegFitRequest& request) {
  VectorXd best = VectorXd::Zero(LegUnknown::kCount);
  VectorXd residuals;
  const auto cost_of = [&](const VectorXd& unknowns) {
    return problem.Residuals(unknowns, true, &residuals)
               ? residuals.head(residuals.size() - LegUnknown::kCount).squaredNorm()
               : std::numeric_limits<double>::infinity();
  };
  double least = cost_of(best);
  for (int pass = 0; pass < 2; ++pass) {
    for (const Index axis : {Index{0}, Index{1}}) {
      VectorXd tried = best;
      for (int i = -kSearchSteps; i <= kSearchSteps && !IsStopped(request); ++i) {
        tried[LegUnknown::kStiffness + axis] = i * kSearchStep;
        const double cost = cost_of(tried);
        if (cost < (1.0 - 1e-9) * least) {
          least = cost;
          best = tried;
        }
      }
    }
  }
  return best;
}

// Weighs every channel by what is left over of it; returns its noise.
std::vector<ChannelFit> Weigh(const VectorXd& residuals,
                              const LegFitRequest& request,
                              std::vector<Channel>* channels) {
  std::vector<ChannelFit> fits;
  Index at = 0;
  for (Channel& channel : *channels) {
    const auto count = static_cast<Index>(channel.rows.size());
    const VectorXd left = channel.deviation * residuals.segment(at, count);
    at += count;
    const BenchRecord& record = request.records[channel.record];
    const std::vector<double>& values = *record.position_m[channel.axis];
    double sum = 0.0, squares = 0.0;
    for (const Index row : channel.rows) {
      sum += values[static_cast<std::size_t>(row)];
    }
    for (const Index row : channel.rows) {
      const double off = values[static_cast<std::size_t>(row)] - sum / static_cast<double>(count);
      squares += off * off;
    }
    ChannelFit& fit = fits.emplace_back();
    fit.trial = record.trial;
    fit.axis = static_cast<int>(channel.axis);
    fit.noise = MeasureNoise({left.data(), static_cast<std::size_t>(count)});
    fit.signal_m = std::sqrt(squares / static_cast<double>(count));
    // A log without any noise has the last digit of its numbers.
    channel.deviation = std::max({fit.noise.WeighingDeviation(), 1e-9 * fit.signal_m, 1e-15});
  }
  return fits;
}

}  // namespace

LegFactors FactorsOf(const VectorXd& unknowns) {
  LegFactors factors;
  for (std::size_t axis = 0; axis < 2; ++axis) {
    const auto i = static_cast<Index>(axis);
    factors.stiffness[axis] = std::exp(unknowns[LegUnknown::kStiffness + i]);
    factors.damping[axis] = std::exp(unknowns[LegUnknown::kDamping + i]);
    factors.gain[axis] = std::exp(unknowns[LegUnknown::kGain + i]);
  }
  factors.mass = std::exp(unknowns[LegUnknown::kMass]);
  return factors;
}

absl::StatusOr<LegFit> FitLeg(const LegFitRequest& request) {
  LegProblem problem(request);
  LegFit fit;
  fit.prior = problem.prior();
  LeastSquaresProblem squares;
  squares.residuals = [&problem](const VectorXd& unknowns, VectorXd* residuals) {
    return problem.Residuals(unknowns, false, residuals);
  };
  squares.residual_count = problem.residual_count();
  squares.start = Search(problem, request);
  squares.stop = request.stop;
  VectorXd residuals;
  if (problem.Residuals(squares.start, true, &residuals)) {
    Weigh(residuals, request, &problem.channels());
  }
  // The noise is known only once the fit is: the first weights are too small by what the search
  // left over.
  for (int pass = 0; pass < 3; ++pass) {
    GAITSHELF_ASSIGN_OR_RETURN(const LeastSquaresFit found, FitLeastSquares(squares));
    squares.start = found.estimate;
    fit.estimate = found.estimate;
    fit.covariance = found.covariance;
    fit.channels = Weigh(found.residuals, request, &problem.channels());
  }
  return fit;
}

}  // namespace gaitshelf::solver
