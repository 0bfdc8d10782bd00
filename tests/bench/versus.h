// The planner's own solver against IPOPT on the same problems from the same seeds.
#ifndef GAITSHELF_TESTS_BENCH_VERSUS_H_
#define GAITSHELF_TESTS_BENCH_VERSUS_H_

#include <string>

#include "absl/status/statusor.h"
#include "tests/bench/json.h"

namespace gaitshelf::bench {

struct VersusOptions {
  std::string robot = "weevil-lumped";
  std::string only;           // part of a set-up's name; empty for all
  double frequency_hz = 0.0;  // of the cases; 0 for all
  double most_ratio = 60.0;   // of IPOPT's time to the planner's, at which it is stopped
};

// Prints a table and gives the same as JSON.
absl::StatusOr<Json> CompareWithIpopt(const VersusOptions& options);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_VERSUS_H_
