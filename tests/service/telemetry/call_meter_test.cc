// That gRPC reports its calls is seen in tests/service/api/server_test.cc.
#include "service/telemetry/call_meter.h"

#include <memory>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::Pair;

TEST(CallMeterTest, CountsEndsByCallAndStatus) {
  CallMeter meter;
  for (const int code : {0, 0, 5, -1}) {
    meter.Begin("JobService/GetJob");
    meter.End("JobService/GetJob", code, 0.002);
  }
  meter.Begin("JobService/WatchJob");
  const CallMeter::Reading reading = meter.Read();
  EXPECT_THAT(reading.ends,
              ElementsAre(Pair(Pair("JobService/GetJob", "GONE"), 1),
                          Pair(Pair("JobService/GetJob", "NOT_FOUND"), 1),
                          Pair(Pair("JobService/GetJob", "OK"), 2)));
  EXPECT_THAT(reading.running,
              ElementsAre(Pair("JobService/GetJob", 0), Pair("JobService/WatchJob", 1)));
}

TEST(CallMeterTest, CountsACallFromItsBeginningToItsEnd) {
  const auto meter = std::make_shared<CallMeter>();
  {
    CallMeter::Call done(meter, CallOf("/gaitshelf.v1.LibraryService/GetGait"));
    const CallMeter::Call gone(meter, "LibraryService/GetGait");
    done.SetCode(0);
    EXPECT_THAT(meter->Read().running, ElementsAre(Pair("LibraryService/GetGait", 2)));
    EXPECT_TRUE(meter->Read().ends.empty());
  }
  const CallMeter::Reading reading = meter->Read();
  EXPECT_THAT(reading.running, ElementsAre(Pair("LibraryService/GetGait", 0)));
  EXPECT_THAT(reading.ends,
              ElementsAre(Pair(Pair("LibraryService/GetGait", "GONE"), 1),
                          Pair(Pair("LibraryService/GetGait", "OK"), 1)));
  EXPECT_EQ(reading.durations.at("LibraryService/GetGait").count, 2);
}

TEST(CallMeterTest, PutsDurationsIntoBucketsWithTheirUpperBound) {
  CallMeter meter;
  for (const double duration_s : {0.0005, 0.001, 0.002, 100.0}) {
    meter.Begin("a");
    meter.End("a", 0, duration_s);
  }
  const CallMeter::Durations durations = meter.Read().durations.at("a");
  EXPECT_THAT(durations.counts, ElementsAre(2, 1, 0, 0, 0, 0, 0, 0, 1));
  EXPECT_EQ(durations.count, 4);
  EXPECT_NEAR(durations.sum_s, 100.0035, 1e-12);
}

}  // namespace
}  // namespace gaitshelf::service
