#include "service/jobs/silence_watch.h"

#include <chrono>
#include <thread>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

RunningJob JobWith(std::int64_t heartbeat_us) {
  return {.fence = {.job = "j-1", .attempt = 1}, .owner = "owner", .heartbeat_us = heartbeat_us};
}

void Pass() { std::this_thread::sleep_for(std::chrono::milliseconds(30)); }

TEST(SilenceWatchTest, CountsFromWhenAHeartbeatWasFirstSeen) {
  SilenceWatch watch(0.02);
  EXPECT_FALSE(watch.IsSilent(JobWith(7)));
  Pass();
  EXPECT_TRUE(watch.IsSilent(JobWith(7)));
  // A sign of life ends it, also one that a wall clock has set back.
  EXPECT_FALSE(watch.IsSilent(JobWith(3)));
}

TEST(SilenceWatchTest, TellsAttemptsApart) {
  SilenceWatch watch(0.02);
  EXPECT_FALSE(watch.IsSilent(JobWith(7)));
  Pass();
  RunningJob next = JobWith(7);
  next.fence.attempt = 2;
  EXPECT_FALSE(watch.IsSilent(next));
}

TEST(SilenceWatchTest, AnOutageOfTheLibraryIsNobodysSilence) {
  SilenceWatch watch(0.02);
  EXPECT_FALSE(watch.IsSilent(JobWith(7)));
  Pass();
  watch.Clear();
  EXPECT_FALSE(watch.IsSilent(JobWith(7)));
}

TEST(SilenceWatchTest, ForgetsJobsThatRunNoMore) {
  SilenceWatch watch(0.02);
  EXPECT_FALSE(watch.IsSilent(JobWith(7)));
  Pass();
  watch.KeepOnly({JobWith(9)});
  EXPECT_TRUE(watch.IsSilent(JobWith(7)));
  watch.KeepOnly({});
  EXPECT_FALSE(watch.IsSilent(JobWith(7)));
}

}  // namespace
}  // namespace gaitshelf::service
