#include "solver/replay/simulate.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <ctime>
#include <functional>
#include <vector>

#include "absl/strings/str_format.h"
#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/leg/plane.h"
#include "solver/replay/leg_control.h"
#include "solver/replay/limits.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;
using Settings = ReplaySettings;

double ProcessorTimeS() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

class Simulation {
 public:
  explicit Simulation(const SimulateRequest& request)
      : plant_(*request.plant),
        model_(request.plant->outline()),
        request_(request),
        track_(request.gaits.from != nullptr ? request.gaits.from : request.track),
        stop_(request.stop),
        on_step_(request.on_step),
        cycle_count_(request.cycle_count),
        sweep_limit_(request.sweep_limit),
        control_(request.leg_controller,
                 request.track->is_periodic() || request.gaits.from != nullptr ||
                         request.leg_controller.hop_gain_ratio() == 0.0
                     ? 1.0
                     : request.leg_controller.hop_gain_ratio(),
                 &request.plant->outline()) {}

  absl::StatusOr<Simulated> Run();

 private:
  absl::Status RunCycles(int cycles);
  absl::Status RunTransition();
  // Goes over to a track at one of its knots.
  void Follow(const GaitTrack& track, int knot);
  double Elapsed() const { return elapsed_before_ + step_ * (step_index_ - segment_step_); }
  double TrackTime() const { return segment_time_ + step_ * (step_index_ - segment_step_); }
  // Steps between two knots of the track that is followed.
  int StepsPerKnot() const;
  // Plays `count` steps; false when the simulation has ended early.
  absl::StatusOr<bool> Play(int count);
  bool HasFallen();
  void Record(const StepReport& step);
  void RecordFeet(const StepReport& step);
  void StartMeasuring();
  // What the cycle that began at `start` has done.
  PlanarMotion MotionSince(const VectorXd& start) const;
  void Finish();
  void FinishPlanRatio();

  ReplayPlant& plant_;
  const RobotModel& model_;
  const SimulateRequest& request_;
  const GaitTrack* track_;  // that is followed now
  const std::atomic<bool>* stop_;
  const std::function<void(const ReplaySample&)>& on_step_;
  int cycle_count_;
  std::int64_t sweep_limit_;
  LegControl control_;
  VectorXd position_;  // of the plant, after the last step
  Simulated result_;
  double step_ = 0.0;
  int step_index_ = 0;
  // Since when the present track is followed: step, time of the track, time of the replay.
  int segment_step_ = 0;
  double segment_time_ = 0.0;
  double elapsed_before_ = 0.0;
  int first_knot_ = 0;  // of each cycle
  double start_height_ = 0.0;
  // Figures since StartMeasuring, which leaves out the first cycle.
  int measured_steps_ = 0;
  int agreeing_ = 0;
  double start_energy_ = 0.0;
  double start_yaw_ = 0.0;
  double height_sum_ = 0.0;
  std::vector<PlanarMotion> motions_;  // of the cycles
  double drive_work_ = 0.0;
  double losses_ = 0.0;
  double drive_turnover_ = 0.0;
  VectorXd slip_;
  VectorXd touchdowns_;
  std::vector<bool> is_lifted_;
};

bool Simulation::HasFallen() {
  if (model_.base_count() == 0) {
    return false;
  }
  v1::ReplayReport& report = result_.report;
  const VectorXd& q = position_;
  const double tilt = std::max(std::abs(q[3]), std::abs(q[4]));
  report.set_peak_tilt_rad(std::max(report.peak_tilt_rad(), tilt));
  const double time_s = Elapsed() * model_.scale().time_s;
  if (tilt > AuditLimits::kFallTiltRad) {
    result_.trouble =
        absl::StrFormat("the robot falls: it tilts by %.2f rad after %.3f s; the limit is %.2f rad",
                        tilt,
                        time_s,
                        AuditLimits::kFallTiltRad);
    return true;
  }
  const double standing = model_.ReferencePosture()[2];
  if (q[2] < AuditLimits::kFallHeightRatio * standing) {
    result_.trouble = absl::StrFormat(
        "the robot falls: its body is %.4f m above the surface after %.3f s; the limit is %.4f m",
        q[2] * model_.scale().length_m,
        time_s,
        AuditLimits::kFallHeightRatio * standing * model_.scale().length_m);
    return true;
  }
  return false;
}

void Simulation::RecordFeet(const StepReport& step) {
  const double time = TrackTime() + 0.5 * step_;
  const double threshold = Settings::kLoadedRatio * model_.total_mass() * model_.gravity().norm();
  const double lifted = Settings::kLiftedRatio * model_.ReferencePosture()[2];
  for (Index i = 0; i < model_.foot_count(); ++i) {
    const bool is_loaded = step.foot_forces[3 * i + 2] > threshold;
    agreeing_ += is_loaded == track_->IsLoaded(time, i, threshold) ? 1 : 0;
    if (is_loaded) {
      slip_[i] += step.foot_slip[i];
    }
    const auto k = static_cast<size_t>(i);
    if (step.foot_motion(2, i) > lifted) {
      is_lifted_[k] = true;
    } else if (is_loaded && is_lifted_[k]) {
      is_lifted_[k] = false;
      touchdowns_[i] += 1.0;
    }
  }
}

void Simulation::Record(const StepReport& step) {
  v1::ReplayReport& report = result_.report;
  ++measured_steps_;
  height_sum_ += model_.base_count() > 0 ? position_[2] : 0.0;
  drive_work_ += step.drive_work;
  drive_turnover_ += std::abs(step.drive_work);
  losses_ += step.damping_loss - step.contact_work;
  report.set_contact_residual_ratio(
      std::max({report.contact_residual_ratio(), step.contact_residual, step.dynamics_residual}));
  const VectorXd legs = position_.tail(2 * model_.leg_count());
  for (Index i = 0; i < legs.size(); ++i) {
    const Travel& travel = model_.travels()[static_cast<size_t>(i)];
    const double beyond = std::max(legs[i] - travel.upper, travel.lower - legs[i]);
    report.set_peak_overtravel_m(
        std::max(report.peak_overtravel_m(), beyond * model_.scale().length_m));
  }
  RecordFeet(step);
}

void Simulation::StartMeasuring() {
  plant_.StartMeasuring();
  measured_steps_ = 0;
  height_sum_ = 0.0;
  agreeing_ = 0;
  drive_work_ = 0.0;
  drive_turnover_ = 0.0;
  losses_ = 0.0;
  start_energy_ = plant_.Energy();
  start_yaw_ = model_.base_count() > 0 ? position_[5] : 0.0;
  slip_.setZero(model_.foot_count());
  touchdowns_.setZero(model_.foot_count());
}

absl::StatusOr<bool> Simulation::Play(int count) {
  VectorXd target, rate;
  StepReport step;
  v1::ReplayReport& report = result_.report;
  for (int i = 0; i < count; ++i) {
    if (stop_ != nullptr && stop_->load(std::memory_order_relaxed)) {
      return absl::CancelledError("the replay was stopped");
    }
    const double time = TrackTime();
    // After its last knot a hop holds what it has planned there.
    track_->LegTarget(time, &target, &rate);
    const VectorXd before_v = control_.voltage_v();
    const VectorXd& u =
        control_.Update(position_, plant_.Velocity(), target, rate, track_->Voltage(time), step_);
    if (u.size() > 0) {
      report.set_peak_voltage_v(std::max(report.peak_voltage_v(), control_.voltage_v().maxCoeff()));
      const double change_v = (control_.voltage_v() - before_v).lpNorm<Eigen::Infinity>();
      report.set_peak_slew_v_per_s(
          std::max(report.peak_slew_v_per_s(), change_v / report.step_s()));
    }
    if (absl::Status status = plant_.Step(u, step_, &step); !status.ok()) {
      result_.trouble = std::string(status.message());
      return false;
    }
    position_ = plant_.Position();
    Record(step);
    ++step_index_;
    if (on_step_) {
      on_step_({.time = Elapsed(),
                .position = position_,
                .velocity = plant_.Velocity(),
                .voltage_v = control_.voltage_v(),
                .step = step});
    }
    result_.sweep_count += step.sweep_count;
    if (sweep_limit_ > 0 && result_.sweep_count > sweep_limit_) {
      result_.trouble = "the feet chatter: their forces take more work than was allowed";
      return false;
    }
    if (model_.base_count() > 0) {
      report.set_rise_m(
          std::max(report.rise_m(), (position_[2] - start_height_) * model_.scale().length_m));
    }
    if (HasFallen()) {
      return false;
    }
  }
  return true;
}

int Simulation::StepsPerKnot() const {
  const double knot_period_s = track_->knot_period() * model_.scale().time_s;
  return std::max(Settings::kLeastStepsPerKnot,
                  static_cast<int>(std::ceil(knot_period_s / Settings::kLongestStepS)));
}

void Simulation::Follow(const GaitTrack& track, int knot) {
  elapsed_before_ = Elapsed();
  segment_step_ = step_index_;
  segment_time_ = knot * track.knot_period();
  first_knot_ = knot;
  track_ = &track;
  step_ = track.knot_period() / StepsPerKnot();
  result_.report.set_step_s(track.knot_period() * model_.scale().time_s / StepsPerKnot());
}

absl::Status Simulation::RunTransition() {
  const ReplayedGaits& gaits = request_.gaits;
  v1::TransitionReport& report = *result_.report.mutable_transition();
  const double length_m = model_.scale().length_m;
  const int per_knot = StepsPerKnot();
  const int per_cycle = per_knot * static_cast<int>(track_->knot_count());
  StartMeasuring();
  GAITSHELF_ASSIGN_OR_RETURN(bool goes_on, Play(per_knot * gaits.from_knot));
  for (int cycle = 0; goes_on && cycle < Settings::kCyclesBefore; ++cycle) {
    const VectorXd start = position_;
    GAITSHELF_ASSIGN_OR_RETURN(goes_on, Play(per_cycle));
    report.set_before_advance_m(MotionSince(start).advance * length_m);
  }
  report.set_before_cycle_count(Settings::kCyclesBefore);
  if (!goes_on) {
    return absl::OkStatus();
  }
  Follow(*request_.track, 0);
  StartMeasuring();
  const VectorXd start = position_;
  GAITSHELF_ASSIGN_OR_RETURN(goes_on,
                             Play(StepsPerKnot() * static_cast<int>(track_->knot_count() - 1)));
  report.set_advance_m((position_[0] - start[0]) * length_m);
  for (const double slip : slip_) {
    report.add_slip_m(slip * length_m);
  }
  if (!goes_on) {
    return absl::OkStatus();
  }
  Follow(*gaits.to, gaits.to_knot);
  report.set_after_cycle_count(cycle_count_);
  return RunCycles(cycle_count_);
}

absl::Status Simulation::RunCycles(int cycles) {
  const int steps_per_cycle = static_cast<int>(std::lround(track_->duration() / step_));
  StartMeasuring();
  for (int cycle = 0; cycle < cycles; ++cycle) {
    if (cycle == 1) {
      StartMeasuring();
    }
    const VectorXd start = position_;
    auto goes_on = Play(steps_per_cycle);
    if (goes_on.ok() && *goes_on && !track_->is_periodic()) {
      goes_on = Play(static_cast<int>(Settings::kSettleS / result_.report.step_s()));
    }
    if (!goes_on.ok()) {
      return goes_on.status();
    }
    if (!*goes_on) {
      return absl::OkStatus();
    }
    if (model_.base_count() > 0) {
      motions_.push_back(MotionSince(start));
      result_.report.add_cycle_advance_m(motions_.back().advance * model_.scale().length_m);
    }
  }
  return absl::OkStatus();
}

PlanarMotion Simulation::MotionSince(const VectorXd& start) const {
  if (track_->motion().is_straight()) {
    return {position_[0] - start[0], 0.0, 0.0};
  }
  // As the plan states it: seen from the planned heading at the start of the cycle.
  PlanarPose planned = PlaneOf(track_->Position(first_knot_));
  planned.x = 0.0;
  PlanarPose change = PlaneOf(start).Inverse().Then(PlaneOf(position_));
  change.heading = std::remainder(change.heading, 2.0 * kPi);
  return MotionTo(planned.Then(change).Then(planned.Inverse()));
}

// Median of one number of the cycles without the first.
double MedianOf(const std::vector<PlanarMotion>& motions, double PlanarMotion::*number) {
  std::vector<double> later;
  for (size_t i = motions.size() > 1 ? 1 : 0; i < motions.size(); ++i) {
    later.push_back(motions[i].*number);
  }
  if (later.empty()) {
    return 0.0;
  }
  const auto middle = later.begin() + static_cast<std::ptrdiff_t>(later.size() / 2);
  std::nth_element(later.begin(), middle, later.end());
  return *middle;
}

void Simulation::Finish() {
  v1::ReplayReport& report = result_.report;
  const double length_m = model_.scale().length_m;
  report.set_advance_m(MedianOf(motions_, &PlanarMotion::advance) * length_m);
  report.set_sidestep_m(MedianOf(motions_, &PlanarMotion::sidestep) * length_m);
  // A hop counts as one cycle, settling and all.
  const double cycles =
      track_->is_periodic() ? std::max(1.0, measured_steps_ * step_ / track_->duration()) : 1.0;
  for (Index i = 0; i < model_.foot_count(); ++i) {
    report.add_touchdown_ratio(touchdowns_[i] / cycles);
    report.add_slip_m(slip_[i] * length_m / cycles);
  }
  if (measured_steps_ > 0 && model_.foot_count() > 0) {
    report.set_footfall_agreement_ratio(agreeing_ / (static_cast<double>(measured_steps_) *
                                                     static_cast<double>(model_.foot_count())));
  }
  if (model_.base_count() > 0) {
    report.set_turn_rad(track_->motion().is_straight() ? (position_[5] - start_yaw_) / cycles
                                                       : MedianOf(motions_, &PlanarMotion::turn));
  }
  if (drive_turnover_ > 0.0) {
    report.set_energy_balance_ratio((drive_work_ - losses_ - (plant_.Energy() - start_energy_)) /
                                    drive_turnover_);
  }
  FinishPlanRatio();
}

void Simulation::FinishPlanRatio() {
  v1::ReplayReport& report = result_.report;
  const double length_m = model_.scale().length_m;
  if (track_->is_periodic()) {
    report.clear_rise_m();
    const PlanarMotion& planned = track_->motion();
    if (!planned.is_straight()) {
      const PlanarMotion replayed = {
          report.advance_m() / length_m, report.sidestep_m() / length_m, report.turn_rad()};
      report.set_plan_ratio(CompareMotions(planned, replayed, TurnLever(model_)).share);
    } else if (planned.advance != 0.0) {
      report.set_plan_ratio(report.advance_m() / (planned.advance * length_m));
    } else if (measured_steps_ > 0) {
      // A stand is to keep its height.
      double height = 0.0;
      for (Index k = 0; k < track_->knot_count(); ++k) {
        height += track_->Position(k)[2] / static_cast<double>(track_->knot_count());
      }
      report.set_plan_ratio(height_sum_ / (measured_steps_ * height));
    }
    return;
  }
  double planned_rise = 0.0;
  for (Index k = 0; k < track_->knot_count() && model_.base_count() > 0; ++k) {
    planned_rise = std::max(planned_rise, track_->Position(k)[2] - track_->Position(0)[2]);
  }
  report.set_plan_ratio(planned_rise > 0.0 ? report.rise_m() / (planned_rise * length_m) : 0.0);
}

absl::StatusOr<Simulated> Simulation::Run() {
  const double start_s = ProcessorTimeS();
  Follow(*track_, 0);
  if (absl::Status started = plant_.StartOnPlan(*track_, step_); !started.ok()) {
    result_.trouble = std::string(started.message());
    return std::move(result_);
  }
  position_ = plant_.Position();
  start_height_ = model_.base_count() > 0 ? position_[2] : 0.0;
  is_lifted_.assign(static_cast<size_t>(model_.foot_count()), false);
  control_.Start(track_->Voltage(0.0));
  const bool is_transition = request_.gaits.from != nullptr;
  GAITSHELF_RETURN_IF_ERROR(is_transition ? RunTransition()
                                          : RunCycles(track_->is_periodic() ? cycle_count_ : 1));
  Finish();
  if (is_transition) {
    result_.report.mutable_transition()->set_after_advance_m(result_.report.advance_m());
  }
  plant_.FillReport(&result_.report);
  result_.report.set_cpu_s(ProcessorTimeS() - start_s);
  return std::move(result_);
}

}  // namespace

int SteadyCycleCount(double stride_frequency_hz) {
  constexpr double kSteadyS = 0.5;
  return std::clamp(
      static_cast<int>(std::ceil(kSteadyS * stride_frequency_hz)), 2, Settings::kCycleCount);
}

absl::StatusOr<Simulated> SimulateGait(const SimulateRequest& request) {
  return Simulation(request).Run();
}

}  // namespace gaitshelf::solver
