// Times the analysis of a trial of ten minutes at 1 kHz: the controller's log with legs, voltages
// and contacts, and a tracking system's at 500 Hz that lags, with noise, gaps and missing samples.
#include <chrono>
#include <cstdio>
#include <utility>

#include "tests/solver/measure/walker.h"

int main() {
  using Clock = std::chrono::steady_clock;
  const auto seconds_since = [](Clock::time_point start) {
    return std::chrono::duration<double>(Clock::now() - start).count();
  };
  gaitshelf::test::Walker walker;
  walker.cycle_count = 6000;
  walker.tracking_delay_s = 0.0183;
  walker.noise_m = 2e-5;
  walker.dropped_share = 0.001;
  walker.missing_share = 0.001;
  const gaitshelf::test::Walked walked = gaitshelf::test::Walk(walker);
  gaitshelf::v1::AnalysisOptions known;
  known.set_greatest_delay_s(0.05);
  std::printf("delay known to be below 50 ms, then unknown\n");
  for (const auto& options : {known, gaitshelf::v1::AnalysisOptions()}) {
    const Clock::time_point start = Clock::now();
    const gaitshelf::v1::TrialAnalysis analysis = walked.Analyse(options);
    std::printf("%8.2f s  %d cycles, stride %.4f mm, uncertainty %.4f mm\n",
                seconds_since(start),
                analysis.cycle_start_s_size(),
                1e3 * analysis.stride_m().mean_si(),
                1e3 * analysis.stride_m().uncertainty_si());
  }
  return 0;
}
