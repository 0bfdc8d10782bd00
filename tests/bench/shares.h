// What the planner's time goes into.
#ifndef GAITSHELF_TESTS_BENCH_SHARES_H_
#define GAITSHELF_TESTS_BENCH_SHARES_H_

#include <string>

#include "absl/status/statusor.h"
#include "tests/bench/json.h"

namespace gaitshelf::bench {

// Solves the demonstration's grid, prints a table and gives the same as JSON. Ceres says how
// long it spent in evaluations with and without derivatives; how an evaluation with derivatives
// divides comes from timing its pieces by themselves at what was found.
absl::StatusOr<Json> MeasureShares(const std::string& robot);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_SHARES_H_
