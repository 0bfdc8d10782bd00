// Two real servers on one PostgreSQL library: one order, which both follow while the database is
// started again underneath.
#include <string>
#include <thread>
#include <vector>

#include <gtest/gtest.h>

#include "tests/end_to_end/house.h"
#include "tests/support/postgres_cluster.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf {
namespace {

TEST(SharedLibraryTest, TwoServersFollowOneOrderAcrossARestartOfTheDatabase) {
  test::PostgresCluster cluster;
  test::House first(cluster.address());
  test::House second(cluster.address());
  first.StartServer();
  second.StartServer();
  first.PutDescriptions();
  const std::string job = first.OrderAdvance(28.0, 0.009, 0);
  // The same order at the other server joins it.
  EXPECT_EQ(second.OrderAdvance(28.0, 0.009, 0), job);

  std::vector<v1::WatchJobResponse> seen_by_first;
  std::vector<v1::WatchJobResponse> seen_by_second;
  std::thread first_watch([&] { seen_by_first = first.Watch(job); });
  std::thread second_watch([&] { seen_by_second = second.Watch(job); });
  // In the middle of the solve, and of both calls.
  EXPECT_TRUE(test::House::Await([&] { return second.GetJob(job).progress().iteration() > 0; }));
  EXPECT_EQ(first.Workers().size() + second.Workers().size(), 1U);
  ASSERT_TRUE(cluster.Stop("fast"));
  ASSERT_TRUE(cluster.Start());
  first_watch.join();
  second_watch.join();

  for (const auto& seen : {seen_by_first, seen_by_second}) {
    ASSERT_GT(seen.size(), 1U);
    EXPECT_EQ(seen.back().job().state(), v1::JOB_STATE_DONE)
        << seen.back().job().ShortDebugString() << first.ServerLog() << second.ServerLog();
    // The worker waited for the database and went on.
    EXPECT_EQ(seen.back().job().attempt(), 1);
  }
  const std::string gait = seen_by_first.back().gait().name();
  EXPECT_EQ(seen_by_second.back().gait().name(), gait);
  const std::string bytes = first.GetGait(gait).SerializeAsString();
  EXPECT_EQ(second.GetGait(gait).SerializeAsString(), bytes);
  EXPECT_NE(first.ServerLog().find("library is back"), std::string::npos);
  EXPECT_THAT(first.library()->CheckIntegrity(), test::IsOk());

  // What was read once is served without the database.
  ASSERT_TRUE(cluster.Stop("fast"));
  EXPECT_EQ(second.GetGait(gait).SerializeAsString(), bytes);
  ASSERT_TRUE(cluster.Start());
  EXPECT_EQ(first.StopServer(), 0);
  EXPECT_EQ(second.StopServer(), 0);
}

}  // namespace
}  // namespace gaitshelf
