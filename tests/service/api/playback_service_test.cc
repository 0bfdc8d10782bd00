#include "service/api/playback_service.h"

#include <chrono>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;
using grpc::StatusCode;
using test::BadFieldsOf;
using test::IsError;
using test::IsGrpcOk;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;

class PlaybackServiceTest : public test::ServedLibrary {
 protected:
  PlaybackServiceTest() { options_.playback.streams.total = 1; }

  void SetUp() override {
    test::ServedLibrary::SetUp();
    StoreDescriptions();
  }

  v1::StreamSetpointsRequest MakeRequest(const std::string& gait) const {
    v1::StreamSetpointsRequest request;
    request.set_gait(gait);
    request.set_duration_s(0.5);
    request.set_is_preview(true);
    return request;
  }

  // Reads to the end and puts the blocks together.
  grpc::Status ReadAll(const v1::StreamSetpointsRequest& request, v1::SetpointBlock* all) {
    grpc::ClientContext context;
    const auto reader = playback_stub_->StreamSetpoints(&context, request);
    v1::SetpointBlock block;
    while (reader->Read(&block)) {
      EXPECT_EQ(block.first_sample(), all->sample_count());
      EXPECT_EQ(block.sample_count(), block.phase_ratio_size());
      const int count = all->sample_count() + block.sample_count();
      all->MergeFrom(block);
      all->set_sample_count(count);
    }
    return reader->Finish();
  }
};

TEST_F(PlaybackServiceTest, StreamsAheadOfItsPace) {
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::StreamSetpointsRequest request = MakeRequest(gait.name());
  request.set_is_preview(false);
  request.set_armed_by("A. Fitter");
  grpc::ClientContext context;
  const auto reader = playback_stub_->StreamSetpoints(&context, request);
  v1::SetpointBlock block;
  ASSERT_TRUE(reader->Read(&block));
  const Clock::time_point start = Clock::now();
  EXPECT_EQ(block.leg_names_size(), 4);
  EXPECT_EQ(block.sample_count(), 20);
  std::int64_t next_sample = block.sample_count();
  double last_time_s = 0.0;
  while (reader->Read(&block)) {
    EXPECT_EQ(block.first_sample(), next_sample);
    next_sample += block.sample_count();
    const double since_start_s = Seconds(Clock::now() - start).count();
    last_time_s = block.first_sample_time_s();
    // Never more than the lead of 0.2 s early; 0.05 s for the time of the first block.
    EXPECT_LE(last_time_s - since_start_s, 0.25);
  }
  EXPECT_THAT(reader->Finish(), IsGrpcOk());
  EXPECT_EQ(next_sample, 1501);  // ramps of 0.5 s before and after
  EXPECT_GE(Seconds(Clock::now() - start).count(), 1.2);
  EXPECT_THAT(log_.lines(), Contains(HasSubstr("mode=armed armed_by=\"A. Fitter\"")));
}

TEST_F(PlaybackServiceTest, SendsAnUnpacedPreviewAtOnce) {
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::StreamSetpointsRequest request = MakeRequest(gait.name());
  request.set_duration_s(60.0);
  request.set_is_unpaced(true);
  request.set_sample_rate_hz(200.0);
  const Clock::time_point start = Clock::now();
  v1::SetpointBlock all;
  EXPECT_THAT(ReadAll(request, &all), IsGrpcOk());
  EXPECT_EQ(all.sample_count(), 61 * 200 + 1);
  EXPECT_LT(Seconds(Clock::now() - start).count(), 20.0);
  EXPECT_EQ(all.voltage_v(all.voltage_v_size() - 1), 100.0);
}

TEST_F(PlaybackServiceTest, RefusesGaitsThatAreNotGoodOrNotThere) {
  const v1::Gait gait = StoreGait(v1::VERDICT_FAILED);
  v1::SetpointBlock all;
  const grpc::Status status = ReadAll(MakeRequest(gait.name()), &all);
  EXPECT_THAT(status, IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("it fell over")));
  EXPECT_EQ(test::ReasonOf(status), "GAIT_NOT_GOOD");
  EXPECT_THAT(ReadAll(MakeRequest("g-none"), &all),
              IsError(StatusCode::NOT_FOUND, HasSubstr("g-none")));
}

TEST_F(PlaybackServiceTest, SamplesOneCycleOfAGoodGaitOnly) {
  v1::SampleGaitRequest request;
  v1::SetpointBlock table;
  const auto sample = [&] {
    grpc::ClientContext context;
    return playback_stub_->SampleGait(&context, request, &table);
  };
  EXPECT_THAT(BadFieldsOf(sample()), ElementsAre("gait", "sample_count"));
  request.set_gait("g-none");
  request.set_sample_count(64);
  EXPECT_THAT(sample(), IsError(StatusCode::NOT_FOUND, HasSubstr("g-none")));
  request.set_gait(StoreGait(v1::VERDICT_GOOD).name());
  EXPECT_THAT(sample(), IsGrpcOk());
  EXPECT_EQ(table.sample_count(), 64);
  EXPECT_EQ(table.voltage_v_size(), 64 * 8);
}

TEST_F(PlaybackServiceTest, SamplesNoGaitThatFailedItsAudit) {
  v1::SampleGaitRequest request;
  request.set_gait(StoreGait(v1::VERDICT_FAILED).name());
  request.set_sample_count(64);
  v1::SetpointBlock table;
  grpc::ClientContext context;
  EXPECT_EQ(test::ReasonOf(playback_stub_->SampleGait(&context, request, &table)), "GAIT_NOT_GOOD");
}

TEST_F(PlaybackServiceTest, RefusesToDriveUnarmed) {
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::StreamSetpointsRequest request = MakeRequest(gait.name());
  request.set_is_preview(false);
  v1::SetpointBlock all;
  const grpc::Status status = ReadAll(request, &all);
  EXPECT_THAT(status, IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("armed_by is missing")));
  EXPECT_EQ(test::ReasonOf(status), "NOT_ARMED");
  EXPECT_EQ(all.sample_count(), 0);
}

TEST_F(PlaybackServiceTest, RefusesBadRequestsWithEveryFault) {
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::StreamSetpointsRequest request;
  request.set_sample_rate_hz(1.0);
  v1::SetpointBlock all;
  const grpc::Status status = ReadAll(request, &all);
  EXPECT_EQ(status.error_code(), StatusCode::INVALID_ARGUMENT);
  EXPECT_THAT(BadFieldsOf(status), ElementsAre("gait", "sample_rate_hz", "duration_s"));
  request = MakeRequest(gait.name());
  request.set_sample_rate_hz(15.0);  // the gait's legs move at 10 Hz
  EXPECT_THAT(BadFieldsOf(ReadAll(request, &all)), ElementsAre("sample_rate_hz"));
}

TEST_F(PlaybackServiceTest, RefusesTooManyStreamsAtOnce) {
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::StreamSetpointsRequest request = MakeRequest(gait.name());
  request.set_duration_s(600.0);
  grpc::ClientContext context;
  const auto reader = playback_stub_->StreamSetpoints(&context, request);
  v1::SetpointBlock block;
  ASSERT_TRUE(reader->Read(&block));
  v1::SetpointBlock all;
  const grpc::Status status = ReadAll(request, &all);
  EXPECT_THAT(status,
              IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("1 streams are under way")));
  EXPECT_EQ(test::ReasonOf(status), "TOO_MANY_STREAMS");
  context.TryCancel();
  while (reader->Read(&block)) {
  }
  EXPECT_EQ(reader->Finish().error_code(), StatusCode::CANCELLED);
}

// A server that stops leads the drive down before it hangs up, also where the client is slow to
// fetch what has arrived.
class LeadDownTest : public PlaybackServiceTest, public testing::WithParamInterface<int> {};

TEST_P(LeadDownTest, LeadsAStreamToRestWhenTheServerStops) {
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::StreamSetpointsRequest request = MakeRequest(gait.name());
  request.set_duration_s(600.0);
  grpc::ClientContext context;
  const auto reader = playback_stub_->StreamSetpoints(&context, request);
  v1::SetpointBlock block;
  for (int i = 0; i < 40; ++i) {
    ASSERT_TRUE(reader->Read(&block));
  }
  v1::SetpointBlock last = block;
  std::thread stopper([this] { server_->Stop(); });
  std::this_thread::sleep_for(std::chrono::milliseconds(GetParam()));
  while (reader->Read(&block)) {
    EXPECT_EQ(block.first_sample(), last.first_sample() + last.sample_count());
    last = block;
  }
  EXPECT_THAT(reader->Finish(), IsError(StatusCode::UNAVAILABLE, HasSubstr("rest posture")));
  stopper.join();
  for (int i = 1; i <= 8; ++i) {
    EXPECT_EQ(last.leg_position_m(last.leg_position_m_size() - i), 0.0);
    EXPECT_EQ(last.voltage_v(last.voltage_v_size() - i), 100.0);
  }
}

INSTANTIATE_TEST_SUITE_P(ReadersPauseMs, LeadDownTest, testing::Values(0, 5, 20, 100));

}  // namespace
}  // namespace gaitshelf::service
