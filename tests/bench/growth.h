// How the planner's time grows with the knots and with the legs.
#ifndef GAITSHELF_TESTS_BENCH_GROWTH_H_
#define GAITSHELF_TESTS_BENCH_GROWTH_H_

#include "absl/status/statusor.h"
#include "tests/bench/json.h"

namespace gaitshelf::bench {

struct GrowthOptions {
  int most_knots = 320;
  int repeats = 5;
};

// Prints tables and gives the same as JSON.
absl::StatusOr<Json> MeasureGrowth(const GrowthOptions& options);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_GROWTH_H_
