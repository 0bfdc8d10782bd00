// A trial as its analysis sees it: every channel on one clock, beside the plan.
#ifndef GAITSHELF_SOLVER_MEASURE_TRIAL_VIEW_H_
#define GAITSHELF_SOLVER_MEASURE_TRIAL_VIEW_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/trial_analysis.pb.h"

#include "solver/measure/planned_cycle.h"
#include "solver/measure/reading.h"
#include "solver/measure/trial_table.h"

namespace gaitshelf::solver {

struct TrialView {
  const TrialTable& table;
  const v1::Gait& gait;
  const PlannedCycle& plan;
  // How far the tracking clock is behind the controller's, s; 0 without a controller's clock.
  double tracking_delay_s = 0.0;

  // Returns the channel of a name, preferring a clock; empty when nothing of that name was
  // measured.
  Reading Read(const ChannelName& name,
               v1::TrialClock preferred = v1::TRIAL_CLOCK_UNSPECIFIED) const {
    const Channel channel = table.Find(name, preferred);
    const bool is_late = channel.clock == v1::TRIAL_CLOCK_TRACKING;
    return {channel,
            {.shift_s = is_late ? tracking_delay_s : 0.0,
             .is_angle = name.quantity == v1::TRIAL_QUANTITY_BODY_ATTITUDE}};
  }
};

// Cycles that count, one after the other, on the controller's clock.
struct Cycles {
  v1::CycleSource source = v1::CYCLE_SOURCE_UNSPECIFIED;
  std::vector<double> start_s{};
  std::vector<double> end_s{};
  // True when a cycle begins at phase 0 of the plan.
  bool is_phase_known = false;
  // Cycles that were too long or too short to be of this gait.
  int odd_count = 0;

  std::size_t size() const { return start_s.size(); }
};

inline void AddNote(const std::string& subject, const std::string& text, v1::TrialAnalysis* to) {
  v1::AnalysisNote* note = to->add_notes();
  note->set_subject(subject);
  note->set_text(text);
}

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_TRIAL_VIEW_H_
