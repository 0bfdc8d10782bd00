// The pose estimator in a control loop takes no memory: a program of its own, because it counts
// every allocation of the process. Debian's C library lets a program put its own malloc before the
// library's.
#include <atomic>
#include <cstddef>
#include <vector>

#include <gtest/gtest.h>

#include "solver/pose/pose_estimator.h"
#include "tests/solver/pose/crawler.h"

namespace {

std::atomic<long> allocation_count{0};

}  // namespace

extern "C" {
void* __libc_malloc(std::size_t size);

void* malloc(std::size_t size) {
  allocation_count.fetch_add(1, std::memory_order_relaxed);
  return __libc_malloc(size);
}
}

namespace gaitshelf::solver {
namespace {

TEST(PoseAllocationTest, TakesNoMemoryAfterTheStart) {
  const test::Crawler crawler{.turn_rad_per_s = 0.2};
  const test::PlannedCrawl crawl(crawler);
  PoseEstimator estimator = PoseEstimator::Create(&crawl.plan, {}).value();
  const long before_all = allocation_count.load();
  std::vector<std::vector<double>> legs;
  for (int i = 0; i < 1000; ++i) {
    legs.push_back(crawler.Legs(crawler.Phase(1e-3 * i)));
  }
  const long before = allocation_count.load();
  EXPECT_GT(before, before_all);  // it does count
  for (int i = 0; i < 1000; ++i) {
    const double time_s = 1e-3 * i;
    estimator.AddStep({.time_s = time_s,
                       .phase_ratio = crawler.Phase(time_s),
                       .leg_position_m = legs[static_cast<std::size_t>(i)]});
    if (i > 40 && i % 4 == 0) {
      estimator.AddTracking(time_s - 0.03, crawler.Truth(time_s - 0.03));
    }
    estimator.Present();
  }
  EXPECT_EQ(allocation_count.load(), before);
  EXPECT_TRUE(estimator.is_tracked());
}

}  // namespace
}  // namespace gaitshelf::solver
