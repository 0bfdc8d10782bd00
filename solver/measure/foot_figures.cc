#include "solver/measure/foot_figures.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>

#include "solver/base/constants.h"
#include "solver/measure/foot_path.h"
#include "solver/measure/statistics.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

std::vector<double> DutyRatios(const Stances& stances, const Cycles& cycles) {
  std::vector<double> duties;
  std::size_t first = 0;
  for (std::size_t i = 0; i < cycles.size(); ++i) {
    const double start_s = cycles.start_s[i], end_s = cycles.end_s[i];
    while (first < stances.list.size() && stances.list[first].end_s < start_s) {
      ++first;
    }
    double stood_s = 0.0;
    for (std::size_t k = first; k < stances.list.size() && stances.list[k].begin_s < end_s; ++k) {
      stood_s += std::max(
          0.0, std::min(end_s, stances.list[k].end_s) - std::max(start_s, stances.list[k].begin_s));
    }
    const bool is_covered = stances.first_s <= start_s && end_s <= stances.last_s;
    duties.push_back(is_covered ? stood_s / (end_s - start_s) : kNan);
  }
  return duties;
}

// A touchdown within a cycle that counts.
struct Touchdown {
  double time_s = 0.0;
  std::size_t cycle = 0;
};

// Index of the cycle that holds a time; the number of cycles when none does.
std::size_t CycleOf(const Cycles& cycles, double time_s) {
  const auto above = std::upper_bound(cycles.start_s.begin(), cycles.start_s.end(), time_s);
  if (above == cycles.start_s.begin()) {
    return cycles.size();
  }
  const auto index = static_cast<std::size_t>(above - cycles.start_s.begin()) - 1;
  return time_s < cycles.end_s[index] ? index : cycles.size();
}

std::vector<Touchdown> TouchdownsIn(const Cycles& cycles, const Stances& stances) {
  std::vector<Touchdown> touchdowns;
  for (const Stance& stance : stances.list) {
    const std::size_t cycle = CycleOf(cycles, stance.begin_s);
    if (stance.has_touchdown && cycle < cycles.size()) {
      touchdowns.push_back({.time_s = stance.begin_s, .cycle = cycle});
    }
  }
  return touchdowns;
}

double PhaseIn(const Cycles& cycles, std::size_t cycle, double time_s) {
  return (time_s - cycles.start_s[cycle]) / (cycles.end_s[cycle] - cycles.start_s[cycle]);
}

v1::CircularFigure TouchdownPhase(const Cycles& cycles, const std::vector<Touchdown>& touchdowns) {
  std::vector<double> phases;
  phases.reserve(touchdowns.size());
  for (const Touchdown& touchdown : touchdowns) {
    phases.push_back(PhaseIn(cycles, touchdown.cycle, touchdown.time_s));
  }
  return SummarizePhases(phases);
}

// Phase of each touchdown after the nearest touchdown of the foot behind.
v1::CircularFigure LimbPhase(const Cycles& cycles,
                             const std::vector<Touchdown>& touchdowns,
                             const Stances& behind) {
  std::vector<double> times_s;
  for (const Stance& stance : behind.list) {
    if (stance.has_touchdown) {
      times_s.push_back(stance.begin_s);
    }
  }
  std::vector<double> phases;
  for (const Touchdown& touchdown : touchdowns) {
    const auto above = std::lower_bound(times_s.begin(), times_s.end(), touchdown.time_s);
    double nearest_s = kNan;
    if (above != times_s.end()) {
      nearest_s = *above;
    }
    if (above != times_s.begin() &&
        !(std::abs(nearest_s - touchdown.time_s) < touchdown.time_s - *(above - 1))) {
      nearest_s = *(above - 1);
    }
    const double period_s = cycles.end_s[touchdown.cycle] - cycles.start_s[touchdown.cycle];
    const double phase = (touchdown.time_s - nearest_s) / period_s;
    if (std::abs(phase) < 1.0) {
      phases.push_back(phase);
    }
  }
  return SummarizePhases(phases);
}

// Stances by plan, where no contact was measured: from touchdown to lift-off at the planned phases.
Stances PlannedStances(const PlannedCycle& plan, Index foot, const Cycles& cycles) {
  Stances stances;
  const double touchdown = plan.TouchdownPhase(foot);
  if (!std::isfinite(touchdown) || !cycles.is_phase_known) {
    return stances;
  }
  for (std::size_t i = 0; i < cycles.size(); ++i) {
    const double period_s = cycles.end_s[i] - cycles.start_s[i];
    const double begin_s = cycles.start_s[i] + touchdown * period_s;
    stances.list.push_back({.begin_s = begin_s,
                            .end_s = begin_s + plan.DutyRatio(foot) * period_s,
                            .has_touchdown = true,
                            .has_lift_off = true});
  }
  return stances;
}

// Distance between the places of touchdown and lift-off, summed over the stances that begin in a
// cycle; for a foot that does not lift, between the beginning and the end of the cycle.
void AddSlip(const TrialView& view,
             const Cycles& cycles,
             const Stances& stances,
             const BodyFigures& body,
             Index foot,
             v1::FootAnalysis* into) {
  FootPath path(view, foot);
  if (!path.is_measured()) {
    return;
  }
  std::vector<double> sizes_m(cycles.size(), kNan), along_m(cycles.size(), kNan);
  const auto add_way = [&](std::size_t cycle, double from_s, double to_s) {
    const Eigen::Vector2d way_m = path.At(to_s, PhaseIn(cycles, cycle, to_s)) -
                                  path.At(from_s, PhaseIn(cycles, cycle, from_s));
    const double heading_rad = body.heading_rad[cycle];
    const auto add = [](double value, double* to) { *to = std::isnan(*to) ? value : *to + value; };
    add(way_m.norm(), &sizes_m[cycle]);
    add(std::cos(heading_rad) * way_m.x() + std::sin(heading_rad) * way_m.y(), &along_m[cycle]);
  };
  for (const Stance& stance : stances.list) {
    const std::size_t cycle = CycleOf(cycles, stance.begin_s);
    const bool is_whole = stance.has_touchdown && stance.has_lift_off && cycle < cycles.size();
    if (is_whole && stance.end_s - stance.begin_s < cycles.end_s[cycle] - cycles.start_s[cycle]) {
      add_way(cycle, stance.begin_s, stance.end_s);
      continue;
    }
    // A foot that stays down is looked at in every whole cycle that it does.
    for (std::size_t i = 0; i < cycles.size(); ++i) {
      if (stance.begin_s <= cycles.start_s[i] && cycles.end_s[i] <= stance.end_s) {
        add_way(i, cycles.start_s[i], cycles.end_s[i]);
      }
    }
  }
  if (const v1::MeasuredFigure slip = Summarize(sizes_m); slip.count() > 0) {
    *into->mutable_slip_m() = slip;
    *into->mutable_slip_along_m() = Summarize(along_m);
  }
}

// What contacts tell of a foot, and of it against the foot behind, which may be null.
void AddContactFigures(const Cycles& cycles,
                       const Stances& foot,
                       const Stances* behind,
                       v1::FootAnalysis* into) {
  const v1::MeasuredFigure duty = Summarize(DutyRatios(foot, cycles));
  if (duty.count() > 0) {
    *into->mutable_duty_ratio() = duty;
  }
  const std::vector<Touchdown> touchdowns = TouchdownsIn(cycles, foot);
  if (cycles.size() > 0) {
    into->set_touchdowns_per_cycle_ratio(static_cast<double>(touchdowns.size()) /
                                         static_cast<double>(cycles.size()));
  }
  if (touchdowns.empty()) {
    return;
  }
  if (cycles.is_phase_known) {
    *into->mutable_touchdown_phase_ratio() = TouchdownPhase(cycles, touchdowns);
  }
  if (behind != nullptr && behind->is_measured) {
    const v1::CircularFigure limb = LimbPhase(cycles, touchdowns, *behind);
    if (limb.count() > 0) {
      *into->mutable_limb_phase_ratio() = limb;
    }
  }
}

}  // namespace

std::vector<int> FeetBehind(const PlannedCycle& plan) {
  const RobotModel& model = plan.model();
  const Eigen::VectorXd posture = model.ReferencePosture();
  std::vector<Eigen::Vector3d> places;
  FootKinematics kinematics;
  for (Index i = 0; i < model.leg_count(); ++i) {
    model.EvaluateFoot(posture, i, false, &kinematics);
    places.push_back(kinematics.position);
  }
  std::vector<int> behind(static_cast<std::size_t>(model.foot_count()), -1);
  for (std::size_t i = 0; i < places.size(); ++i) {
    for (std::size_t k = 0; k < places.size(); ++k) {
      const bool is_same_side = (places[i].y() > 0.0) == (places[k].y() > 0.0);
      const bool is_nearer =
          behind[i] < 0 || places[k].x() > places[static_cast<std::size_t>(behind[i])].x();
      if (is_same_side && places[k].x() < places[i].x() && is_nearer) {
        behind[i] = static_cast<int>(k);
      }
    }
  }
  return behind;
}

void AddFootFigures(const TrialView& view,
                    const Cycles& cycles,
                    const std::vector<Stances>& feet,
                    const BodyFigures& body,
                    v1::TrialAnalysis* analysis) {
  const std::vector<int> behind = FeetBehind(view.plan);
  bool is_slip_derived = false;
  for (std::size_t foot = 0; foot < feet.size(); ++foot) {
    v1::FootAnalysis* into = analysis->add_feet();
    into->set_foot(view.gait.foot_names(static_cast<int>(foot)));
    if (behind[foot] >= 0) {
      into->set_foot_behind(view.gait.foot_names(behind[foot]));
    }
    const auto index = static_cast<Index>(foot);
    is_slip_derived = is_slip_derived || FootPath(view, index).is_derived();
    if (!feet[foot].is_measured) {
      AddSlip(view, cycles, PlannedStances(view.plan, index, cycles), body, index, into);
      continue;
    }
    AddSlip(view, cycles, feet[foot], body, index, into);
    AddContactFigures(cycles,
                      feet[foot],
                      behind[foot] >= 0 ? &feet[static_cast<std::size_t>(behind[foot])] : nullptr,
                      into);
  }
  if (is_slip_derived && cycles.size() > 0) {
    AddNote("feet.slip_m",
            "feet were not tracked: where they were is worked out of body and legs, and what was "
            "not measured is taken as planned",
            analysis);
  }
  if (cycles.size() > 0 && std::none_of(feet.begin(), feet.end(), [](const Stances& stances) {
        return stances.is_measured;
      })) {
    AddNote("feet.duty_ratio", "no contact and no force on a foot was measured", analysis);
  }
}

}  // namespace gaitshelf::solver
