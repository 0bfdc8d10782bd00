// What the body did in each cycle: displacement, heading, turn.
#ifndef GAITSHELF_SOLVER_MEASURE_BODY_FIGURES_H_
#define GAITSHELF_SOLVER_MEASURE_BODY_FIGURES_H_

#include <vector>

#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// One entry for each cycle; NaN where it was not measured.
struct BodyFigures {
  // Direction that the robot faced, rad from the x axis of the position.
  std::vector<double> heading_rad{};
  std::vector<double> along_m{};
  std::vector<double> across_m{};  // to the left
  std::vector<double> turn_rad{};  // to the left
  // True when the heading is the measured yaw, less the plan's mean yaw. Without yaw it is the
  // direction of the whole displacement, reversed for a gait that goes backwards.
  bool is_heading_measured = false;
};

BodyFigures MeasureBody(const TrialView& view, const Cycles& cycles);

// Fills frequency, stride, drift, turn and speed.
void AddBodyFigures(const TrialView& view,
                    const Cycles& cycles,
                    const BodyFigures& body,
                    v1::TrialAnalysis* analysis);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_BODY_FIGURES_H_
