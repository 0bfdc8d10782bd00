#include "service/api/write_watchdog.h"

#include <chrono>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using testing::Contains;
using testing::HasSubstr;

class WriteWatchdogTest : public test::ServedLibrary {
 protected:
  WriteWatchdogTest() { options_.patience = std::chrono::milliseconds(300); }
};

// The client opens a stream of 100 MB and never reads: its thread must come free.
TEST_F(WriteWatchdogTest, CutsOffAReaderThatStandsStill) {
  StoreDescriptions();
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::StreamSetpointsRequest request;
  request.set_gait(gait.name());
  request.set_duration_s(86400.0);
  request.set_is_preview(true);
  request.set_is_unpaced(true);
  grpc::ClientContext context;
  const auto reader = playback_stub_->StreamSetpoints(&context, request);
  const auto has_ended = [this] {
    for (const std::string& line : log_.lines()) {
      if (line.find("code=CANCELLED") != std::string::npos) {
        return true;
      }
    }
    return false;
  };
  const auto give_up = std::chrono::steady_clock::now() + std::chrono::seconds(60);
  while (!has_ended() && std::chrono::steady_clock::now() < give_up) {
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  EXPECT_TRUE(has_ended());
  v1::SetpointBlock block;
  while (reader->Read(&block)) {
  }
  EXPECT_EQ(reader->Finish().error_code(), grpc::StatusCode::CANCELLED);
}

}  // namespace
}  // namespace gaitshelf::service
