#include "solver/pose/planned_body.h"

#include <gtest/gtest.h>

#include "tests/solver/pose/crawler.h"

namespace gaitshelf::solver {
namespace {

TEST(PlannedBodyTest, IsThePlanAtEveryPhase) {
  const test::PlannedCrawl crawl{test::Crawler()};
  const PlannedBody body(crawl.plan);
  for (const double phase : {0.0, 0.1234, 0.9999, 1.0, 2.5, -0.3}) {
    // 1e-9: the plan is linear between its 200 knots, which the table's phases hold.
    EXPECT_LT((body.At(phase) - crawl.plan.Position(phase).head<6>()).norm(), 1e-9) << phase;
  }
}

TEST(PlannedBodyTest, GoesOnByTheAdvance) {
  const test::PlannedCrawl crawl{test::Crawler()};
  const PlannedBody body(crawl.plan);
  EXPECT_NEAR(body.At(3.25)[0] - body.At(0.25)[0], 3 * 0.008, 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
