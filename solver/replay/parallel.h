// Runs independent pieces of work on a few threads.
#ifndef GAITSHELF_SOLVER_REPLAY_PARALLEL_H_
#define GAITSHELF_SOLVER_REPLAY_PARALLEL_H_

#include <functional>

#include "absl/status/status.h"

namespace gaitshelf::solver {

// Calls work(0) to work(count - 1), each once, on up to thread_count threads of which the caller's
// is one. Returns after the last call has ended; an exception of a call reaches the caller. After a
// failure no further piece is begun.
//
// Errors:
//   as work   the failure of the lowest index among those that were seen
absl::Status RunPieces(int count, int thread_count, const std::function<absl::Status(int)>& work);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_PARALLEL_H_
