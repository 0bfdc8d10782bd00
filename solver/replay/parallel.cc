#include "solver/replay/parallel.h"

#include <atomic>
#include <cstddef>
#include <future>
#include <vector>

namespace gaitshelf::solver {

absl::Status RunPieces(int count, int thread_count, const std::function<absl::Status(int)>& work) {
  std::vector<absl::Status> results(static_cast<std::size_t>(count));
  std::atomic<int> next{0};
  std::atomic<bool> has_failed{false};
  const auto run = [&] {
    for (int i = next++; i < count && !has_failed; i = next++) {
      results[static_cast<std::size_t>(i)] = work(i);
      if (!results[static_cast<std::size_t>(i)].ok()) {
        has_failed = true;
      }
    }
  };
  {
    // A future of std::async waits for its thread when it goes, also when run() throws here.
    std::vector<std::future<void>> helpers;
    for (int i = 1; i < thread_count && i < count; ++i) {
      helpers.push_back(std::async(std::launch::async, run));
    }
    run();
    for (std::future<void>& helper : helpers) {
      helper.get();
    }
  }
  for (const absl::Status& result : results) {
    if (!result.ok()) {
      return result;
    }
  }
  return absl::OkStatus();
}

}  // namespace gaitshelf::solver
