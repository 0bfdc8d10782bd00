// How the planner's time grows with the knots and with the legs.
#ifndef GAITSHELF_TESTS_BENCH_GROWTH_H_
#define GAITSHELF_TESTS_BENCH_GROWTH_H_

#include <google/protobuf/struct.pb.h>

#include "absl/status/statusor.h"

namespace gaitshelf::bench {

struct GrowthOptions {
  int most_knots = 320;
  int repeats = 5;
};

// Prints tables and gives the same as a structure.
absl::StatusOr<google::protobuf::Struct> MeasureGrowth(const GrowthOptions& options);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_GROWTH_H_
