// A library with as many gaits as wanted: one real solve under other names, frequencies and keys.
#ifndef GAITSHELF_TESTS_BENCH_FILLED_LIBRARY_H_
#define GAITSHELF_TESTS_BENCH_FILLED_LIBRARY_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/library_service.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace gaitshelf::bench {

struct SolvedGait {
  v1::StoredRobot robot;
  v1::StoredSurface surface;
  v1::Gait gait;
};

// Has a server of its own plan and audit an advance of a robot of the demonstration.
//
// Errors:
//   kInternal   there is no gait; the message has the server's log
absl::StatusOr<SolvedGait> SolveGait(const std::string& robot, int knot_count);

// Copies are numbered from 0. One in kRareGap is filed under another robot, so that a filter has
// something to pass over.
inline constexpr int kRareGap = 1000;
inline constexpr char kRareRobot[] = "rare";
std::string CopyName(int index);
// The order that the copy answers.
v1::GaitOrder CopyOrder(const SolvedGait& solved, int index);

// Fills an empty library, by its path or address, with `count` copies.
absl::Status FillLibrary(const std::string& library, const SolvedGait& solved, int count);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_FILLED_LIBRARY_H_
