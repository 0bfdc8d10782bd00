#include "solver/measure/analyse_trial.h"

#include <vector>

#include "absl/strings/str_cat.h"
#include "solver/measure/body_figures.h"
#include "solver/measure/clock_delay.h"
#include "solver/measure/find_cycles.h"
#include "solver/measure/foot_figures.h"
#include "solver/measure/leg_figures.h"
#include "solver/measure/mean_cycle.h"
#include "solver/measure/stances.h"
#include "solver/measure/transport.h"
#include "solver/robot/rule_walk.h"

namespace gaitshelf::solver {
namespace {

// Contacts and gaps shorter than this share of a cycle are bouncing (own choice).
constexpr double kBounceRatio = 0.05;
constexpr double kGreatestDelayS = 10.0;
constexpr int kMostLeftOut = 1'000'000;

void NoteDelay(v1::TrialAnalysis* analysis) {
  const v1::DelayEstimate& delay = analysis->delay();
  if (delay.outcome() == v1::DELAY_OUTCOME_AMBIGUOUS ||
      delay.outcome() == v1::DELAY_OUTCOME_NOT_FOUND) {
    AddNote("delay",
            absl::StrCat("tracking is taken as if it did not lag, because its delay is not known: ",
                         delay.reason()),
            analysis);
  }
}

void NoteCycles(const TrialView& view, const Cycles& cycles, v1::TrialAnalysis* analysis) {
  if (!view.plan.is_periodic()) {
    AddNote("cycle_start_s", "the gait is a hop, which has no cycles", analysis);
  } else if (cycles.size() == 0) {
    AddNote("cycle_start_s",
            "no whole cycle that counts is in the logs: check the commanded frequency, or leave "
            "out fewer cycles",
            analysis);
  }
  if (cycles.odd_count > 0) {
    AddNote("cycle_start_s",
            absl::StrCat(cycles.odd_count,
                         " cycles do not count, because they were longer or shorter than the "
                         "commanded ones by more than a quarter"),
            analysis);
  }
}

}  // namespace

Violations CheckAnalysisOptions(const v1::AnalysisOptions& options) {
  Violations violations;
  if (!(options.greatest_delay_s() >= 0.0) || options.greatest_delay_s() > kGreatestDelayS) {
    AddFault({"options.greatest_delay_s",
              NumberText(options.greatest_delay_s()),
              "must be 0 to 10 s",
              "give the greatest lag of the tracking system, or 0 when nothing is known"},
             &violations);
  }
  if (options.left_out_count() < 0 || options.left_out_count() > kMostLeftOut) {
    AddFault({"options.left_out_count",
              absl::StrCat(options.left_out_count()),
              "must be 0 to 1000000",
              "give the number of cycles while the robot settles"},
             &violations);
  }
  return violations;
}

v1::TrialAnalysis AnalyseTrial(const AnalysisRequest& request) {
  const v1::Trial& trial = request.table->trial();
  v1::TrialAnalysis analysis;
  analysis.set_trial(trial.name());
  analysis.set_analysis_version(kAnalysisVersion);
  *analysis.mutable_options() = request.options;
  std::vector<v1::SamplingReport> reports = request.table->ReportSampling();
  for (v1::SamplingReport& report : reports) {
    *analysis.add_sampling() = std::move(report);
  }
  *analysis.mutable_delay() =
      EstimateClockDelay(*request.table, request.options.greatest_delay_s());
  NoteDelay(&analysis);
  const bool is_known = analysis.delay().outcome() == v1::DELAY_OUTCOME_FOUND;
  const TrialView view = {.table = *request.table,
                          .gait = *request.gait,
                          .plan = *request.plan,
                          .tracking_delay_s = is_known ? analysis.delay().delay_s() : 0.0};
  const double shortest_s =
      trial.stride_frequency_hz() > 0.0 ? kBounceRatio / trial.stride_frequency_hz() : 0.0;
  std::vector<Stances> feet;
  feet.reserve(static_cast<std::size_t>(request.gait->foot_names_size()));
  for (int i = 0; i < request.gait->foot_names_size(); ++i) {
    feet.push_back(FindStances(view, i, shortest_s));
  }
  const int left_out_count =
      request.options.has_left_out_count() ? request.options.left_out_count() : 1;
  const Cycles cycles = FindCycles(view, feet, left_out_count);
  NoteCycles(view, cycles, &analysis);
  analysis.set_cycle_source(cycles.source);
  analysis.mutable_cycle_start_s()->Assign(cycles.start_s.begin(), cycles.start_s.end());
  analysis.mutable_cycle_end_s()->Assign(cycles.end_s.begin(), cycles.end_s.end());
  const BodyFigures body = MeasureBody(view, cycles);
  AddBodyFigures(view, cycles, body, &analysis);
  AddFootFigures(view, cycles, feet, body, &analysis);
  AddLegFigures(view, cycles, &analysis);
  AddTransport(view, cycles, &analysis);
  AddMeanCycle(view, cycles, feet, body, &analysis);
  return analysis;
}

}  // namespace gaitshelf::solver
