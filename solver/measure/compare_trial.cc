#include "solver/measure/compare_trial.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "solver/measure/statistics.h"
#include "solver/measure/stride_effects.h"
#include "solver/measure/transport.h"

namespace gaitshelf::solver {
namespace {

class Figures {
 public:
  explicit Figures(v1::TrialComparison* comparison) : comparison_(*comparison) {}

  v1::ComparedFigure* Add(const std::string& name, const std::string& unit) {
    v1::ComparedFigure* figure = comparison_.add_figures();
    figure->set_figure(name);
    figure->set_unit(unit);
    return figure;
  }
  v1::ComparedFigure* Add(const std::string& name,
                          const std::string& unit,
                          const v1::MeasuredFigure& measured) {
    v1::ComparedFigure* figure = Add(name, unit);
    if (measured.count() > 0) {
      figure->set_measured_si(measured.mean_si());
      figure->set_deviation_si(measured.deviation_si());
    }
    return figure;
  }

 private:
  v1::TrialComparison& comparison_;
};

void AddCost(const v1::TrialAnalysis& analysis,
             const v1::Gait& gait,
             const PlannedCycle& plan,
             Figures* figures) {
  if (!analysis.has_cost()) {
    return;
  }
  v1::ComparedFigure* figure = figures->Add("cost of transport", "1");
  figure->set_measured_si(analysis.cost().cost_ratio());
  // Costs of different kinds of power say nothing of each other.
  const std::optional<double> planned = PlannedChargingCost(gait, plan);
  if (analysis.cost().power_kind() == v1::POWER_KIND_CHARGING && planned.has_value()) {
    figure->set_planned_si(*planned);
  }
}

void AddWholeRobot(const v1::TrialAnalysis& analysis, const v1::Gait& gait, Figures* figures) {
  const bool has_replay = gait.audit().has_replay();
  const v1::ReplayReport& replay = gait.audit().replay();
  // No accepted gait leaves the message without a displacement.
  const v1::HandTuned& rival = gait.audit().hand_tuned();
  const bool has_rival = rival.accepted_count() > 0;
  const double frequency_hz = gait.stride_frequency_hz();
  v1::ComparedFigure* figure = figures->Add("stride", "m", analysis.stride_m());
  figure->set_planned_si(gait.advance_m());
  v1::ComparedFigure* speed = figures->Add("speed", "m/s", analysis.speed_m_per_s());
  speed->set_planned_si(gait.advance_m() * frequency_hz);
  if (has_replay) {
    figure->set_replayed_si(replay.advance_m());
    speed->set_replayed_si(replay.advance_m() * frequency_hz);
  }
  if (has_rival) {
    figure->set_hand_tuned_si(rival.advance_m());
    speed->set_hand_tuned_si(rival.advance_m() * frequency_hz);
  }
  figure = figures->Add("stride frequency", "Hz", analysis.stride_frequency_hz());
  figure->set_planned_si(frequency_hz);
  figures->Add("drift", "m", analysis.drift_m())->set_planned_si(gait.sidestep_m());
  figure = figures->Add("turn", "rad", analysis.turn_rad());
  figure->set_planned_si(gait.turn_rad());
  v1::ComparedFigure* peak = figures->Add("peak voltage", "V");
  if (analysis.peak_voltage_v() > 0.0) {
    peak->set_measured_si(analysis.peak_voltage_v());
  }
  peak->set_planned_si(gait.report().peak_voltage_v());
  if (has_replay) {
    figure->set_replayed_si(replay.turn_rad());
    peak->set_replayed_si(replay.peak_voltage_v());
  }
}

// Planned touchdown of a foot after that of another, in cycles; NaN when either never touches down.
double PlannedLimbPhase(const v1::Gait& gait,
                        const PlannedCycle& plan,
                        int index,
                        const std::string& behind) {
  const auto& names = gait.foot_names();
  const auto other = std::find(names.begin(), names.end(), behind);
  if (other == names.end()) {
    return std::nan("");
  }
  return WrapPhase(plan.TouchdownPhase(index) - plan.TouchdownPhase(other - names.begin()));
}

void AddLimbPhase(const v1::FootAnalysis& foot,
                  const v1::Gait& gait,
                  const PlannedCycle& plan,
                  int index,
                  Figures* figures) {
  if (foot.foot_behind().empty()) {
    return;
  }
  v1::ComparedFigure* figure = figures->Add(absl::StrCat("limb phase ", foot.foot()), "1");
  if (foot.limb_phase_ratio().count() > 0) {
    figure->set_measured_si(foot.limb_phase_ratio().mean_ratio());
    figure->set_deviation_si(foot.limb_phase_ratio().deviation_ratio());
  }
  const double planned = PlannedLimbPhase(gait, plan, index, foot.foot_behind());
  if (std::isfinite(planned)) {
    figure->set_planned_si(planned);
  }
}

// How far legs are from the plan; the plan itself is not.
void AddLeg(const v1::LegAnalysis& leg, Figures* figures) {
  const auto add = [&](const char* coordinate, const v1::TrackingError& error) {
    v1::ComparedFigure* figure =
        figures->Add(absl::StrCat("error ", leg.leg(), " ", coordinate), "m");
    figure->set_measured_si(error.rms_m());
    figure->set_planned_si(0.0);
  };
  if (leg.has_lift()) {
    add("lift", leg.lift());
  }
  if (leg.has_swing()) {
    add("swing", leg.swing());
  }
}

void AddFoot(const v1::FootAnalysis& foot,
             const v1::Gait& gait,
             const PlannedCycle& plan,
             int index,
             Figures* figures) {
  const v1::HandTuned& rival = gait.audit().hand_tuned();
  const v1::ReplayReport& replay = gait.audit().replay();
  v1::ComparedFigure* figure =
      figures->Add(absl::StrCat("duty factor ", foot.foot()), "1", foot.duty_ratio());
  figure->set_planned_si(plan.DutyRatio(index));
  if (rival.accepted_count() > 0) {
    figure->set_hand_tuned_si(rival.duty_ratio());
  }
  figure = figures->Add(absl::StrCat("touchdown phase ", foot.foot()), "1");
  if (foot.touchdown_phase_ratio().count() > 0) {
    figure->set_measured_si(foot.touchdown_phase_ratio().mean_ratio());
    figure->set_deviation_si(foot.touchdown_phase_ratio().deviation_ratio());
  }
  if (const double planned = plan.TouchdownPhase(index); std::isfinite(planned)) {
    figure->set_planned_si(planned);
  }
  AddLimbPhase(foot, gait, plan, index, figures);
  figure = figures->Add(absl::StrCat("touchdowns per cycle ", foot.foot()), "1");
  if (foot.duty_ratio().count() > 0) {
    figure->set_measured_si(foot.touchdowns_per_cycle_ratio());
  }
  if (index < gait.report().touchdown_count_size()) {
    figure->set_planned_si(gait.report().touchdown_count(index));
  }
  if (index < replay.touchdown_ratio_size()) {
    figure->set_replayed_si(replay.touchdown_ratio(index));
  }
  // Plan and replay tell the whole way of sliding; a measured one would be mostly noise.
  figure = figures->Add(absl::StrCat("slip ", foot.foot()), "m", foot.slip_m());
  if (index < gait.report().slip_m_size()) {
    figure->set_planned_si(gait.report().slip_m(index));
  }
  if (index < replay.slip_m_size()) {
    figure->set_replayed_si(replay.slip_m(index));
  }
}

}  // namespace

v1::TrialComparison CompareTrial(const v1::TrialAnalysis& analysis,
                                 const v1::Gait& gait,
                                 const PlannedCycle& plan) {
  v1::TrialComparison comparison;
  *comparison.mutable_analysis() = analysis;
  comparison.set_gait(gait.name());
  if (!plan.is_periodic()) {
    return comparison;
  }
  Figures figures(&comparison);
  AddWholeRobot(analysis, gait, &figures);
  AddCost(analysis, gait, plan, &figures);
  for (int i = 0; i < analysis.feet_size(); ++i) {
    AddFoot(analysis.feet(i), gait, plan, i, &figures);
  }
  for (const v1::LegAnalysis& leg : analysis.legs()) {
    AddLeg(leg, &figures);
  }
  double explained_m = 0.0;
  std::vector<v1::TrialDifference> differences = FindStrideEffects(analysis, gait, plan);
  for (v1::TrialDifference& difference : differences) {
    explained_m += difference.effect_m();
    *comparison.add_differences() = std::move(difference);
  }
  if (analysis.stride_m().count() > 0) {
    comparison.set_stride_difference_m(analysis.stride_m().mean_si() - gait.advance_m());
    comparison.set_unexplained_m(comparison.stride_difference_m() - explained_m);
  }
  return comparison;
}

}  // namespace gaitshelf::solver
