#include "solver/calibrate/calibrate.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/bench_record.h"
#include "solver/calibrate/estimate.h"
#include "solver/calibrate/friction.h"
#include "solver/calibrate/gait_fit.h"
#include "solver/calibrate/gait_report.h"
#include "solver/calibrate/gait_unknowns.h"
#include "solver/calibrate/leg_fit.h"
#include "solver/calibrate/leg_numbers.h"
#include "solver/calibrate/leg_report.h"
#include "solver/calibrate/linear_leg.h"
#include "solver/calibrate/noise.h"
#include "solver/robot/draw.h"
#include "solver/robot/rule_walk.h"

namespace gaitshelf::solver {
namespace {

using Eigen::VectorXd;

bool IsBenchKind(v1::TrialKind kind) {
  return kind == v1::TRIAL_KIND_RING_DOWN || kind == v1::TRIAL_KIND_STEP ||
         kind == v1::TRIAL_KIND_CHIRP;
}

class Calibrator {
 public:
  explicit Calibrator(const CalibrationRequest& request) : request_(request) {}

  absl::StatusOr<v1::Calibration> Run();

 private:
  absl::Status CheckNeeds() const;
  absl::Status FitFriction();
  absl::Status FitLegs();
  absl::Status FitTrialsOfGaits();
  absl::Status FitOneLeg(int index, const std::vector<BenchRecord>& records);
  void TakeLeg(int index, const VectorXd& told);
  void TakeFriction(const v1::CalibrationEstimate& estimate, v1::FrictionMethod method);
  void TightenUncertainty();
  void SayProgress(double done_ratio, const std::string& step) const;

  void Note(const std::string& subject, const std::string& text) {
    v1::AnalysisNote* note = result_.add_notes();
    note->set_subject(subject);
    note->set_text(text);
  }

  const CalibrationRequest& request_;
  v1::Calibration result_;
  std::optional<v1::Robot> robot_;  // with what was told so far
  std::optional<v1::Surface> surface_;
  bool is_robot_told_ = false;
  bool is_surface_told_ = false;
  std::vector<LegNumbers> numbers_;
};

void Calibrator::SayProgress(double done_ratio, const std::string& step) const {
  if (request_.on_progress) {
    v1::CalibrationProgress progress;
    progress.set_done_ratio(std::min(1.0, done_ratio));
    progress.set_step(step);
    request_.on_progress(progress);
  }
}

absl::Status Calibrator::CheckNeeds() const {
  for (const TrialTable* trial : request_.trials) {
    const v1::TrialKind kind = trial->trial().kind();
    const std::string& name = trial->trial().name();
    const bool is_gait = kind == v1::TRIAL_KIND_GAIT;
    if (is_gait && request_.gaits.count(trial->trial().gait()) == 0) {
      return absl::InvalidArgumentError(
          absl::StrCat("gait is missing, which trial '", name, "' is of"));
    }
    if ((IsBenchKind(kind) || is_gait) && !request_.robot.has_value()) {
      return absl::InvalidArgumentError(
          absl::StrCat("robot is missing, which trial '", name, "' is of"));
    }
    if (!IsBenchKind(kind) && !request_.surface.has_value()) {
      return absl::InvalidArgumentError(
          absl::StrCat("surface is missing, which trial '", name, "' is on"));
    }
  }
  return absl::OkStatus();
}

void Calibrator::TakeFriction(const v1::CalibrationEstimate& estimate, v1::FrictionMethod method) {
  is_surface_told_ = true;
  surface_->set_friction_coefficient(estimate.estimate_si());
  surface_->set_friction_uncertainty_coefficient(
      std::min({estimate.uncertainty_si(), estimate.estimate_si(), 1.0}));
  surface_->set_friction_method(method);
}

absl::Status Calibrator::FitFriction() {
  std::vector<FrictionFigure> figures;
  for (const TrialTable* trial : request_.trials) {
    const v1::TrialKind kind = trial->trial().kind();
    if (kind != v1::TRIAL_KIND_TILT && kind != v1::TRIAL_KIND_SLED) {
      continue;
    }
    FrictionTest test = {.table = trial, .options = request_.options};
    if (kind == v1::TRIAL_KIND_TILT && !trial->trial().robot().empty() &&
        request_.robot.has_value()) {
      test.tipping_rad = TippingAngle(*request_.robot);
    }
    absl::StatusOr<FrictionFigure> figure = MeasureFriction(test);
    if (!figure.ok()) {
      return absl::Status(
          figure.status().code(),
          absl::StrCat("trial '", trial->trial().name(), "': ", figure.status().message()));
    }
    v1::CalibrationFit* fit = result_.add_fits();
    fit->set_trial(figure->trial);
    fit->set_channel(figure->is_moving ? "friction while sliding" : "friction at the start");
    fit->set_value_count(figure->count);
    fit->set_residual_si(figure->deviation);
    fit->set_signal_si(figure->friction);
    fit->set_unit("1");
    figures.push_back(*std::move(figure));
  }
  if (figures.empty()) {
    return absl::OkStatus();
  }
  const FrictionFigure all = CombineFriction(figures);
  const double described = request_.surface->friction_coefficient();
  if (!(described > 0.0) || !(all.friction > 0.0)) {
    return absl::FailedPreconditionError(
        "friction is 0, described or measured, and can then not be calibrated by a factor");
  }
  const double deviation = all.uncertainty / all.friction;
  FittedFactor factor = {.log = std::log(all.friction / described),
                         .log_deviation = deviation,
                         .prior_deviation = DescribedFrictionRatio(*request_.surface),
                         .half_width = StudentHalfWidth(all.degrees_of_freedom)};
  v1::CalibrationEstimate estimate = MakeEstimate(
      {.quantity = v1::CALIBRATION_QUANTITY_FRICTION, .described_si = described}, factor);
  estimate.set_reason(absl::StrFormat("by %d tilt or sled test(s), %d values",
                                      static_cast<int>(figures.size()),
                                      static_cast<int>(all.count)));
  // A test of friction stands for itself, however well it was known before.
  estimate.set_is_told(true);
  TakeFriction(estimate, all.method);
  *result_.add_estimates() = std::move(estimate);
  if (all.birge_ratio > 1.5) {
    Note("friction",
         absl::StrFormat("tests of friction differ %.1f times more than they claim; their "
                         "uncertainty was raised by that. Friction at the start and while sliding "
                         "are not the same",
                         all.birge_ratio));
  }
  return absl::OkStatus();
}

void Calibrator::TakeLeg(int index, const VectorXd& told) {
  const auto at = static_cast<std::size_t>(index);
  is_robot_told_ = is_robot_told_ || told.cwiseAbs().maxCoeff() > 0.0;
  *robot_->mutable_legs(index) = numbers_[at].Scaled(request_.robot->legs(index), FactorsOf(told));
}

absl::Status Calibrator::FitOneLeg(int index, const std::vector<BenchRecord>& records) {
  const v1::Leg& leg = request_.robot->legs(index);
  GAITSHELF_ASSIGN_OR_RETURN(const LinearLeg linear,
                             LineariseLeg(leg, numbers_[static_cast<std::size_t>(index)]));
  absl::StatusOr<LegFit> fit =
      FitLeg({.leg = &linear,
              .records = records,
              .mass_ratio = StatedUncertainty(*request_.robot).mass_ratio(),
              .stop = request_.stop});
  if (!fit.ok()) {
    return absl::Status(fit.status().code(),
                        absl::StrCat("leg '", leg.name(), "': ", fit.status().message()));
  }
  TakeLeg(index, ReportLeg(leg, linear, *fit, &result_));
  return absl::OkStatus();
}

absl::Status Calibrator::FitLegs() {
  const int count = request_.robot->legs_size();
  for (int i = 0; i < count; ++i) {
    GAITSHELF_ASSIGN_OR_RETURN(LegNumbers numbers, LegNumbers::Create(request_.robot->legs(i)));
    numbers_.push_back(std::move(numbers));
  }
  for (int i = 0; i < count; ++i) {
    std::vector<BenchRecord> records;
    for (const TrialTable* trial : request_.trials) {
      if (IsBenchKind(trial->trial().kind())) {
        for (BenchRecord& record : ReadBenchRecords(*trial, request_.robot->legs(i))) {
          records.push_back(std::move(record));
        }
      }
    }
    if (!records.empty()) {
      SayProgress(0.05 + 0.25 * i / count,
                  absl::StrCat("bench tests of ", request_.robot->legs(i).name()));
      GAITSHELF_RETURN_IF_ERROR(FitOneLeg(i, records));
    }
  }
  return absl::OkStatus();
}

absl::Status Calibrator::FitTrialsOfGaits() {
  constexpr double kDoneBefore = 0.3;
  std::vector<GaitTrial> trials;
  for (const TrialTable* trial : request_.trials) {
    if (trial->trial().kind() == v1::TRIAL_KIND_GAIT) {
      trials.push_back({.table = trial, .gait = &request_.gaits.at(trial->trial().gait())});
    }
  }
  if (trials.empty()) {
    return absl::OkStatus();
  }
  GAITSHELF_ASSIGN_OR_RETURN(const GaitUnknowns unknowns,
                             GaitUnknowns::Create(*robot_, *surface_, ToldSoFar(result_)));
  GAITSHELF_ASSIGN_OR_RETURN(const GaitFit fit,
                             FitGaits({.unknowns = &unknowns,
                                       .trials = trials,
                                       .thread_count = request_.thread_count,
                                       .stop = request_.stop,
                                       .on_progress = [this](double ratio) {
                                         SayProgress(kDoneBefore + (1.0 - kDoneBefore) * ratio,
                                                     "replays of gaits");
                                       }}));
  const VectorXd taken = ReportGaits(unknowns, fit, &result_);
  *robot_ = unknowns.RobotOf(taken);
  is_robot_told_ = is_robot_told_ || !taken.isZero(0.0);
  for (const v1::CalibrationEstimate& estimate : result_.estimates()) {
    const bool is_friction = estimate.quantity() == v1::CALIBRATION_QUANTITY_FRICTION;
    if (is_friction && estimate.is_told() && !is_surface_told_) {
      // No way of measuring that a description could name.
      TakeFriction(estimate, v1::FRICTION_METHOD_UNSPECIFIED);
      break;
    }
  }
  return absl::OkStatus();
}

// Where every leg's number was told, the robot's stated uncertainty of it is the worst of theirs.
void Calibrator::TightenUncertainty() {
  struct Kind {
    double worst = 0.0;
    int count = 0;
    bool is_all_told = true;
  };
  Kind stiffness, gain;
  for (const v1::CalibrationEstimate& estimate : result_.estimates()) {
    Kind* kind = estimate.quantity() == v1::CALIBRATION_QUANTITY_STIFFNESS ? &stiffness
                 : estimate.quantity() == v1::CALIBRATION_QUANTITY_GAIN    ? &gain
                                                                           : nullptr;
    if (kind == nullptr || estimate.leg().empty()) {
      continue;
    }
    ++kind->count;
    kind->is_all_told = kind->is_all_told && estimate.is_told();
    kind->worst = std::max(kind->worst, estimate.uncertainty_si() / estimate.estimate_si());
  }
  v1::RobotUncertainty uncertainty = StatedUncertainty(*robot_);
  if (stiffness.is_all_told && stiffness.count == 2 * robot_->legs_size()) {
    uncertainty.set_stiffness_ratio(std::min(stiffness.worst, uncertainty.stiffness_ratio()));
  }
  if (gain.is_all_told && gain.count == 2 * robot_->legs_size()) {
    uncertainty.set_gain_ratio(std::min(gain.worst, uncertainty.gain_ratio()));
  }
  *robot_->mutable_uncertainty() = uncertainty;
}

absl::StatusOr<v1::Calibration> Calibrator::Run() {
  GAITSHELF_RETURN_IF_ERROR(CheckNeeds());
  robot_ = request_.robot;
  surface_ = request_.surface;
  result_.set_calibration_version(kCalibrationVersion);
  *result_.mutable_options() = request_.options;
  for (const TrialTable* trial : request_.trials) {
    result_.add_trials(trial->trial().name());
    result_.set_is_invented(result_.is_invented() || trial->trial().is_invented());
  }
  SayProgress(0.0, "tests of friction");
  if (surface_.has_value()) {
    GAITSHELF_RETURN_IF_ERROR(FitFriction());
  }
  if (robot_.has_value()) {
    GAITSHELF_RETURN_IF_ERROR(FitLegs());
    GAITSHELF_RETURN_IF_ERROR(FitTrialsOfGaits());
  }
  if (result_.estimates().empty()) {
    return absl::FailedPreconditionError(
        "the trials measure nothing that can be calibrated: tilt and sled tests tell friction, "
        "ring-downs, steps and chirps of a leg its stiffness, damping and gain, trials of gaits "
        "what these leave open");
  }
  if (is_robot_told_) {
    TightenUncertainty();
    *result_.mutable_calibrated_robot() = *robot_;
  }
  if (is_surface_told_) {
    *result_.mutable_calibrated_surface() = *surface_;
  }
  SayProgress(1.0, "done");
  return std::move(result_);
}

}  // namespace

Violations CheckCalibrationOptions(const v1::CalibrationOptions& options) {
  Violations violations;
  if (!(options.tilt_uncertainty_rad() >= 0.0) || options.tilt_uncertainty_rad() > 0.2) {
    AddFault({"options.tilt_uncertainty_rad",
              NumberText(options.tilt_uncertainty_rad()),
              "must be 0 to 0.2 rad",
              "give the standard uncertainty of the plane's angle"},
             &violations);
  }
  if (!(options.force_uncertainty_ratio() >= 0.0) || options.force_uncertainty_ratio() > 0.5) {
    AddFault({"options.force_uncertainty_ratio",
              NumberText(options.force_uncertainty_ratio()),
              "must be 0 to 0.5",
              "give the standard uncertainty of pull over normal force as a share of it"},
             &violations);
  }
  return violations;
}

absl::StatusOr<v1::Calibration> Calibrate(const CalibrationRequest& request) {
  return Calibrator(request).Run();
}

}  // namespace gaitshelf::solver
