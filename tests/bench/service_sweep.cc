// How many gaits a minute a server plans and audits, and what a second worker adds.
#include <chrono>
#include <cstdio>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "tests/bench/quantile.h"
#include "tests/bench/service.h"
#include "tests/end_to_end/house.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::bench {
namespace {

constexpr double kFrequencies_hz[] = {8.0, 10.0, 12.0, 14.0};
constexpr double kAdvances_m[] = {0.007, 0.008, 0.009};
constexpr std::chrono::hours kLongestJob(1);

struct Sweep {
  int order_count = 0;
  int good_count = 0;
  double seconds = 0.0;

  [[nodiscard]] double rate_per_min() const { return 60.0 * order_count / seconds; }
};

// Tells how far a sweep is: on a machine that is busy with other work it takes long.
void ShowProgress(const Sweep& sweep, std::size_t job_count, int worker_count) {
  std::fprintf(stderr,
               "sweep by %d worker%s: %d of %zu after %.0f s\n",
               worker_count,
               worker_count == 1 ? "" : "s",
               sweep.order_count,
               job_count,
               sweep.seconds);
}

absl::StatusOr<Sweep> RunSweep(int worker_count) {
  const test::TemporaryFolder folder;
  test::House house(folder.File("library.db"), {"--workers", absl::StrCat(worker_count)});
  house.StartServer();
  house.PutDescriptions("weevil-lumped");
  const auto begin = std::chrono::steady_clock::now();
  std::vector<std::string> jobs;
  for (const double advance_m : kAdvances_m) {
    for (const double frequency_hz : kFrequencies_hz) {
      jobs.push_back(house.OrderAdvance(frequency_hz, advance_m, 0));
    }
  }
  Sweep sweep;
  for (const std::string& job : jobs) {
    if (!house.AwaitEnd(job, kLongestJob)) {
      return absl::DeadlineExceededError(absl::StrCat("job ", job, " takes too long"));
    }
    ++sweep.order_count;
    sweep.good_count += house.GetJob(job).state() == v1::JOB_STATE_DONE ? 1 : 0;
    sweep.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    ShowProgress(sweep, jobs.size(), worker_count);
  }
  return sweep;
}

}  // namespace

absl::StatusOr<Json> MeasureSweep(const ServiceOptions& /*options*/) {
  constexpr int kRounds = 3;
  Json rounds = Json::List();
  std::vector<double> ratios;
  for (int round = 0; round < kRounds; ++round) {
    Sweep sweeps[2];
    for (const int turn : {0, 1}) {
      const int side = (round + turn) % 2;
      GAITSHELF_ASSIGN_OR_RETURN(sweeps[side], RunSweep(1 + side));
    }
    ratios.push_back(sweeps[1].rate_per_min() / sweeps[0].rate_per_min());
    std::printf("sweep of %d, %d good: %.1f a minute by one worker, %.1f by two (%.2f)\n",
                sweeps[0].order_count,
                sweeps[0].good_count,
                sweeps[0].rate_per_min(),
                sweeps[1].rate_per_min(),
                ratios.back());
    std::fflush(stdout);
    rounds.Add(Json::Object()
                   .Set("orders", sweeps[0].order_count)
                   .Set("good", sweeps[0].good_count)
                   .Set("one_worker_per_min", sweeps[0].rate_per_min())
                   .Set("two_workers_per_min", sweeps[1].rate_per_min())
                   .Set("ratio", ratios.back()));
  }
  return Json::Object().Set("ratio_median", Quantile(ratios, 0.5)).Set("rounds", rounds);
}

}  // namespace gaitshelf::bench
