#include "solver/measure/stride_effects.h"

#include <algorithm>
#include <cmath>
#include <string>

#include <Eigen/Core>

#include "absl/strings/str_format.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// Effects below a nanometre are rounding.
constexpr double kLeastEffectM = 1e-9;

// One side, plan or trial: F feet by B intervals of phase.
struct Side {
  Eigen::MatrixXd contact;  // share of the interval that the foot stands
  Eigen::MatrixXd share;    // of the foot among those that stand
  Eigen::MatrixXd sweep_m;  // of the foot relative to the body, forward
};

Eigen::MatrixXd SharesOf(const Eigen::MatrixXd& contact) {
  Eigen::MatrixXd share = contact;
  for (Index b = 0; b < share.cols(); ++b) {
    const double sum = share.col(b).sum();
    if (sum > 0.0) {
      share.col(b) /= std::max(1.0, sum);
    }
  }
  return share;
}

// Place of each foot relative to the body along x at the phases b / B, for the leg coordinates of a
// mean cycle or, without one, of the plan.
Eigen::MatrixXd FootPlaces(const PlannedCycle& plan, Index phases, const v1::MeanCycle* mean) {
  const RobotModel& model = plan.model();
  Eigen::MatrixXd places(model.foot_count(), phases);
  FootKinematics kinematics;
  for (Index b = 0; b < phases; ++b) {
    Eigen::VectorXd q = plan.Position(static_cast<double>(b) / static_cast<double>(phases));
    const Index width = 2 * model.leg_count();
    for (Index i = 0; mean != nullptr && !mean->leg_position_m().empty() && i < width; ++i) {
      const double value = mean->leg_position_m(static_cast<int>(b * width + i));
      if (std::isfinite(value)) {
        q[model.base_count() + i] = value;
      }
    }
    for (Index foot = 0; foot < model.foot_count(); ++foot) {
      model.EvaluateFoot(q, foot, false, &kinematics);
      places(foot, b) = kinematics.position.x() - (model.base_count() > 0 ? q[0] : 0.0);
    }
  }
  return places;
}

// Steps from each phase to the next, the last one back to the first, which is on_cycle further.
Eigen::MatrixXd Steps(const Eigen::MatrixXd& places, double on_cycle) {
  Eigen::MatrixXd steps = -places;
  const Index last = places.cols() - 1;
  steps.leftCols(last) += places.rightCols(last);
  steps.col(last) += places.col(0);
  steps.col(last).array() += on_cycle;
  return steps;
}

// Means of each phase and the next.
Eigen::MatrixXd Between(const Eigen::MatrixXd& at) {
  Eigen::MatrixXd between = 0.5 * at;
  const Index last = at.cols() - 1;
  between.leftCols(last) += 0.5 * at.rightCols(last);
  between.col(last) += 0.5 * at.col(0);
  return between;
}

Side PlannedSide(const PlannedCycle& plan, Index phases) {
  Eigen::MatrixXd contact(plan.model().foot_count(), phases);
  for (Index b = 0; b < phases; ++b) {
    for (Index foot = 0; foot < contact.rows(); ++foot) {
      contact(foot, b) =
          plan.IsLoaded(static_cast<double>(b) / static_cast<double>(phases), foot) ? 1.0 : 0.0;
    }
  }
  Side side;
  side.contact = Between(contact);
  side.share = SharesOf(side.contact);
  side.sweep_m = Steps(FootPlaces(plan, phases, nullptr), 0.0);
  return side;
}

Side MeasuredSide(const v1::MeanCycle& mean, const PlannedCycle& plan, const Side& planned) {
  const Index phases = mean.phase_count();
  Side side = planned;
  side.sweep_m = Steps(FootPlaces(plan, phases, &mean), 0.0);
  if (mean.contact_ratio().empty()) {
    return side;
  }
  Eigen::MatrixXd contact(planned.contact.rows(), phases);
  for (Index b = 0; b < phases; ++b) {
    for (Index foot = 0; foot < contact.rows(); ++foot) {
      contact(foot, b) = mean.contact_ratio(static_cast<int>(b * contact.rows() + foot));
    }
  }
  contact = Between(contact);
  for (Index foot = 0; foot < contact.rows(); ++foot) {
    if (contact.row(foot).allFinite()) {
      side.contact.row(foot) = contact.row(foot);
    }
  }
  side.share = SharesOf(side.contact);
  return side;
}

void AddDifference(v1::DifferenceKind kind,
                   const std::string& part,
                   double effect_m,
                   const std::string& what,
                   std::vector<v1::TrialDifference>* into) {
  if (!(std::abs(effect_m) >= kLeastEffectM)) {
    return;
  }
  v1::TrialDifference& difference = into->emplace_back();
  difference.set_kind(kind);
  difference.set_part(part);
  difference.set_effect_m(effect_m);
  difference.set_text(absl::StrFormat("%s; that makes the stride %.3f mm %s",
                                      what,
                                      std::abs(effect_m) * 1e3,
                                      effect_m > 0.0 ? "greater" : "less"));
}

// Slide along the heading per cycle and its part of the stride, by the plan's own feet.
struct Slide {
  double along_m = 0.0;
  double effect_m = 0.0;
};

Slide PlannedSlide(const Eigen::MatrixXd& slide_m, const Side& planned, Index foot) {
  return {.along_m = planned.contact.row(foot).dot(slide_m.row(foot)),
          .effect_m = planned.share.row(foot).dot(slide_m.row(foot))};
}

}  // namespace

std::vector<v1::TrialDifference> FindStrideEffects(const v1::TrialAnalysis& analysis,
                                                   const v1::Gait& gait,
                                                   const PlannedCycle& plan) {
  std::vector<v1::TrialDifference> found;
  if (!analysis.has_mean_cycle() || analysis.cycle_source() == v1::CYCLE_SOURCE_BODY ||
      // A body that turns gives every foot a way of its own, which one stride does not explain.
      gait.turn_rad() != 0.0 || gait.sidestep_m() != 0.0) {
    return found;
  }
  const Index phases = analysis.mean_cycle().phase_count();
  const Side planned = PlannedSide(plan, phases);
  const Side measured = MeasuredSide(analysis.mean_cycle(), plan, planned);
  Eigen::MatrixXd body(1, phases);
  for (Index b = 0; b < phases; ++b) {
    body(0, b) = plan.model().base_count() > 0
                     ? plan.Position(static_cast<double>(b) / static_cast<double>(phases))[0]
                     : 0.0;
  }
  const Eigen::MatrixXd slide_m =
      planned.sweep_m + Steps(body, plan.advance_m()).replicate(planned.sweep_m.rows(), 1);
  for (Index foot = 0; foot < planned.contact.rows(); ++foot) {
    const std::string& name = gait.foot_names(static_cast<int>(foot));
    const Eigen::RowVectorXd more_m = planned.sweep_m.row(foot) - measured.sweep_m.row(foot);
    AddDifference(
        v1::DIFFERENCE_KIND_LEG_MOTION,
        name,
        planned.share.row(foot).dot(more_m),
        absl::StrFormat("leg '%s' sweeps %.3f mm back while it should stand, planned %.3f mm",
                        name,
                        -1e3 * planned.contact.row(foot).dot(measured.sweep_m.row(foot)),
                        -1e3 * planned.contact.row(foot).dot(planned.sweep_m.row(foot))),
        &found);
    AddDifference(
        v1::DIFFERENCE_KIND_CONTACT_TIMING,
        name,
        -(measured.share.row(foot) - planned.share.row(foot)).dot(measured.sweep_m.row(foot)),
        absl::StrFormat("foot '%s' and those that stand with it stand at other times than "
                        "planned: it does for %.2f of the cycle, planned %.2f",
                        name,
                        measured.contact.row(foot).mean(),
                        planned.contact.row(foot).mean()),
        &found);
    const v1::FootAnalysis& figures = analysis.feet(static_cast<int>(foot));
    const double stood = measured.contact.row(foot).sum();
    if (figures.slip_along_m().count() > 0 && stood > 0.0) {
      const Slide slide = PlannedSlide(slide_m, planned, foot);
      const double along_m = figures.slip_along_m().mean_si();
      AddDifference(
          v1::DIFFERENCE_KIND_SLIP,
          name,
          along_m * measured.share.row(foot).sum() / stood - slide.effect_m,
          absl::StrFormat("foot '%s' slides %.3f mm forward while it stands, planned %.3f mm",
                          name,
                          1e3 * along_m,
                          1e3 * slide.along_m),
          &found);
    }
  }
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) {
    return std::abs(a.effect_m()) > std::abs(b.effect_m());
  });
  return found;
}

}  // namespace gaitshelf::solver
