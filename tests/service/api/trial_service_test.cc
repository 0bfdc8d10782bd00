// Covers service/api/estimate_pose.cc
// Covers service/api/load_trial.cc
// Covers service/api/receive_trial.cc
// Covers service/api/study_trial.cc
#include "service/api/trial_service.h"

#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::BadFieldsOf;
using test::IsError;
using test::IsGrpcOk;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;

class TrialServiceTest : public test::ServedLibrary {
 protected:
  void SetUp() override {
    ServedLibrary::SetUp();
    StoreDescriptions();
    gait_ = StoreGait(v1::VERDICT_GOOD);
  }

  v1::Trial Describe() const {
    v1::Trial trial;
    trial.set_kind(v1::TRIAL_KIND_GAIT);
    trial.set_title("first run");
    trial.set_gait(gait_.name());
    trial.set_requester("ada");
    trial.set_is_invented(true);
    v1::TrialGroup* group = trial.add_groups();
    group->set_name("log");
    group->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
    for (const char* label :
         {"time [ms]", "phase", "body x [mm]", "leg-1 swing [mm]", "leg-1 contact"}) {
      group->add_columns()->set_label(label);
    }
    return trial;
  }

  // Half a second at 1 kHz in blocks of 100 rows: 7 mm a cycle of 10 Hz.
  static std::vector<v1::TrialBlock> Walk() {
    std::vector<v1::TrialBlock> blocks(5);
    for (int row = 0; row < 500; ++row) {
      v1::TrialBlock& block = blocks[static_cast<std::size_t>(row / 100)];
      block.set_first_row(100 * (row / 100));
      const double phase = (row % 100) / 100.0;
      block.add_values_as_labelled(row);
      block.add_values_as_labelled(phase);
      block.add_values_as_labelled(0.07 * row);
      block.add_values_as_labelled(0.8 * std::sin(2.0 * std::numbers::pi * (phase + 0.1)));
      block.add_values_as_labelled(phase < 0.5 ? 1.0 : 0.0);
    }
    return blocks;
  }

  grpc::Status Upload(const v1::Trial& trial,
                      const std::vector<v1::TrialBlock>& blocks,
                      v1::UploadTrialResponse* response) {
    grpc::ClientContext context;
    const auto writer = Stub()->UploadTrial(&context, response);
    v1::UploadTrialRequest request;
    *request.mutable_trial() = trial;
    writer->Write(request);
    for (const v1::TrialBlock& block : blocks) {
      *request.mutable_block() = block;
      writer->Write(request);
    }
    writer->WritesDone();
    return writer->Finish();
  }

  std::string UploadWalk() {
    v1::UploadTrialResponse response;
    EXPECT_THAT(Upload(Describe(), Walk(), &response), IsGrpcOk());
    return response.trial().name();
  }

  std::unique_ptr<v1::TrialService::Stub> Stub() { return v1::TrialService::NewStub(channel_); }

  v1::Gait gait_;
};

TEST_F(TrialServiceTest, KeepsATrialAsItCame) {
  v1::UploadTrialResponse response;
  ASSERT_THAT(Upload(Describe(), Walk(), &response), IsGrpcOk());
  EXPECT_TRUE(response.is_new());
  const v1::Trial trial = response.trial();
  EXPECT_EQ(trial.robot(), "quadruped");
  EXPECT_EQ(trial.robot_digest(), gait_.robot_digest());
  EXPECT_EQ(trial.surface_digest(), gait_.surface_digest());
  EXPECT_EQ(trial.stride_frequency_hz(), 10.0);
  EXPECT_EQ(trial.requester(), "ada");
  EXPECT_EQ(trial.groups(0).row_count(), 500);
  EXPECT_EQ(trial.groups(0).columns(2).si_ratio(), 1e-3);
  EXPECT_TRUE(trial.has_create_time());

  ASSERT_THAT(Upload(Describe(), Walk(), &response), IsGrpcOk());
  EXPECT_FALSE(response.is_new());

  v1::GetTrialRequest get;
  get.set_name(trial.name());
  v1::Trial again;
  grpc::ClientContext get_context;
  ASSERT_THAT(Stub()->GetTrial(&get_context, get, &again), IsGrpcOk());
  EXPECT_EQ(again.title(), "first run");

  v1::StreamTrialSamplesRequest stream;
  stream.set_name(trial.name());
  grpc::ClientContext stream_context;
  const auto reader = Stub()->StreamTrialSamples(&stream_context, stream);
  v1::TrialBlock block;
  for (const v1::TrialBlock& sent : Walk()) {
    ASSERT_TRUE(reader->Read(&block));
    EXPECT_EQ(block.SerializeAsString(), sent.SerializeAsString());
  }
  EXPECT_FALSE(reader->Read(&block));
  EXPECT_THAT(reader->Finish(), IsGrpcOk());
}

TEST_F(TrialServiceTest, ListsTrialsNewestFirst) {
  UploadWalk();
  v1::Trial other = Describe();
  other.set_title("second run");
  v1::UploadTrialResponse response;
  ASSERT_THAT(Upload(other, Walk(), &response), IsGrpcOk());
  const auto list = [&](v1::ListTrialsRequest request) {
    v1::ListTrialsResponse page;
    grpc::ClientContext context;
    EXPECT_THAT(Stub()->ListTrials(&context, request, &page), IsGrpcOk());
    return page;
  };
  v1::ListTrialsRequest request;
  request.set_gait(gait_.name());
  request.set_page_size(1);
  v1::ListTrialsResponse page = list(request);
  ASSERT_EQ(page.trials_size(), 1);
  EXPECT_EQ(page.trials(0).title(), "second run");
  request.set_page_token(page.next_page_token());
  page = list(request);
  EXPECT_EQ(page.trials(0).title(), "first run");
  EXPECT_EQ(page.next_page_token(), "");
  request.Clear();
  request.set_kind(v1::TRIAL_KIND_TILT);
  EXPECT_EQ(list(request).trials_size(), 0);
  request.set_page_size(1001);
  grpc::ClientContext context;
  EXPECT_THAT(BadFieldsOf(Stub()->ListTrials(&context, request, &page)), ElementsAre("page_size"));
}

TEST_F(TrialServiceTest, NamesRowAndColumnOfBadSamples) {
  std::vector<v1::TrialBlock> blocks = Walk();
  blocks[1].set_values_as_labelled(5 * 7, 3.0);        // time goes back
  blocks[2].set_values_as_labelled(5 * 3 + 1, 1.5);    // no phase
  blocks[3].set_values_as_labelled(5 * 9 + 2, 1e9);    // 1000 km
  blocks[4].set_values_as_labelled(5 * 99 + 4, -2.0);  // no contact
  v1::UploadTrialResponse response;
  const grpc::Status status = Upload(Describe(), blocks, &response);
  EXPECT_THAT(status, IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("row 108")));
  EXPECT_THAT(BadFieldsOf(status),
              ElementsAre("group 'log' row 108 column 'time [ms]'",
                          "group 'log' row 204 column 'phase'",
                          "group 'log' row 310 column 'body x [mm]'",
                          "group 'log' row 500 column 'leg-1 contact'"));
}

TEST_F(TrialServiceTest, RefusesTornStreams) {
  v1::UploadTrialResponse response;
  std::vector<v1::TrialBlock> blocks = Walk();
  std::swap(blocks[1], blocks[2]);
  EXPECT_THAT(Upload(Describe(), blocks, &response),
              IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("is first_row 200; must be 100")));
  blocks = Walk();
  blocks[0].mutable_values_as_labelled()->RemoveLast();
  EXPECT_THAT(Upload(Describe(), blocks, &response),
              IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("whole rows of 5 columns")));
  EXPECT_THAT(Upload(Describe(), {}, &response),
              IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("0 rows; needs at least 2")));
  grpc::ClientContext context;
  const auto writer = Stub()->UploadTrial(&context, &response);
  v1::UploadTrialRequest request;
  *request.mutable_block() = Walk()[0];
  writer->Write(request);
  writer->WritesDone();
  EXPECT_THAT(BadFieldsOf(writer->Finish()), ElementsAre("trial"));
}

// A client that is gone before it has said that it is done stores nothing.
TEST_F(TrialServiceTest, StoresNothingOfAnUploadThatBreaksOff) {
  v1::UploadTrialResponse response;
  {
    grpc::ClientContext context;
    const auto writer = Stub()->UploadTrial(&context, &response);
    v1::UploadTrialRequest request;
    *request.mutable_trial() = Describe();
    writer->Write(request);
    *request.mutable_block() = Walk()[0];
    writer->Write(request);
    context.TryCancel();
    EXPECT_THAT(writer->Finish(), IsError(StatusCode::CANCELLED, testing::_));
  }
  server_->Stop();  // every handler has ended
  EXPECT_TRUE(library_->ListTrials({}, {.page_size = 10}).value().trials.empty());
}

TEST_F(TrialServiceTest, RefusesAThirdUploadAtATime) {
  struct Open {
    grpc::ClientContext context;
    v1::UploadTrialResponse response;
    std::unique_ptr<grpc::ClientWriter<v1::UploadTrialRequest>> writer;
  };
  v1::UploadTrialRequest request;
  *request.mutable_trial() = Describe();
  std::vector<std::unique_ptr<Open>> open(2);
  for (std::unique_ptr<Open>& one : open) {
    one = std::make_unique<Open>();
    one->writer = Stub()->UploadTrial(&one->context, &one->response);
    ASSERT_TRUE(one->writer->Write(request));
    one->writer->WaitForInitialMetadata();  // it has been let in
  }
  v1::UploadTrialResponse response;
  const grpc::Status third = Upload(Describe(), Walk(), &response);
  EXPECT_THAT(third, IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("2 uploads")));
  EXPECT_EQ(test::ReasonOf(third), "TOO_MANY_TRIALS");
  for (const std::unique_ptr<Open>& one : open) {
    for (const v1::TrialBlock& block : Walk()) {
      *request.mutable_block() = block;
      one->writer->Write(request);
    }
    one->writer->WritesDone();
    EXPECT_THAT(one->writer->Finish(), IsGrpcOk());
  }
  EXPECT_THAT(Upload(Describe(), Walk(), &response), IsGrpcOk());
}

class SmallTrialServiceTest : public TrialServiceTest {
 protected:
  SmallTrialServiceTest() { options_.trials.value_limit = 5 * 400; }
};

TEST_F(SmallTrialServiceTest, RefusesMoreValuesThanATrialMayHave) {
  v1::UploadTrialResponse response;
  EXPECT_THAT(Upload(Describe(), Walk(), &response),
              IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("more than 2000 values")));
  std::vector<v1::TrialBlock> blocks = Walk();
  blocks.pop_back();
  EXPECT_THAT(Upload(Describe(), blocks, &response), IsGrpcOk());
}

TEST(TrialServiceOptionsTest, ATrialMayHave40MillionValues) {
  // Ten minutes at 1 kHz of 66 columns; the comment of UploadTrial says so.
  EXPECT_EQ(TrialServiceOptions().value_limit, 40'000'000);
  EXPECT_EQ(TrialServiceOptions().upload_limit, 2);
}

TEST_F(TrialServiceTest, RefusesABadDescription) {
  v1::UploadTrialResponse response;
  v1::Trial trial = Describe();
  trial.mutable_groups(0)->mutable_columns(3)->set_label("leg-9 swing [mm]");
  trial.mutable_groups(0)->mutable_columns(2)->set_label("body x [kg]");
  EXPECT_THAT(BadFieldsOf(Upload(trial, Walk(), &response)),
              ElementsAre("groups[0].columns[2].label", "groups[0].columns[3].label"));
  trial = Describe();
  trial.set_gait("g-00000000000000000000000000000009");
  EXPECT_THAT(Upload(trial, Walk(), &response),
              IsError(StatusCode::NOT_FOUND, HasSubstr("g-00000000000000000000000000000009")));
  trial = Describe();
  trial.set_robot("earwig");
  EXPECT_THAT(BadFieldsOf(Upload(trial, Walk(), &response)), ElementsAre("robot"));
  trial = Describe();
  trial.clear_kind();
  EXPECT_THAT(Upload(trial, Walk(), &response),
              IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("kind")));
}

TEST_F(TrialServiceTest, AnalysesAndKeepsTheAnalysis) {
  v1::AnalyseTrialRequest request;
  request.set_name(UploadWalk());
  for (int i = 0; i < 2; ++i) {
    v1::AnalyseTrialResponse response;
    grpc::ClientContext context;
    ASSERT_THAT(Stub()->AnalyseTrial(&context, request, &response), IsGrpcOk());
    // Starts at 0, 100 ... 400 ms make four cycles, the first left out.
    EXPECT_EQ(response.analysis().stride_m().count(), 3);
    EXPECT_NEAR(response.analysis().stride_m().mean_si(), 0.007, 1e-9);
    EXPECT_NEAR(response.analysis().legs(0).swing().rms_m(), 0.0, 0.002);
    EXPECT_EQ(response.analysis().trial(), request.name());
  }
  EXPECT_TRUE(library_->FindTrialAnalysis(request.name(), 1, {}).value().has_value());
  request.mutable_options()->set_left_out_count(0);
  v1::AnalyseTrialResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(Stub()->AnalyseTrial(&context, request, &response), IsGrpcOk());
  EXPECT_EQ(response.analysis().stride_m().count(), 4);
}

TEST_F(TrialServiceTest, ComparesWithThePlan) {
  v1::CompareTrialRequest request;
  request.set_name(UploadWalk());
  v1::CompareTrialResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(Stub()->CompareTrial(&context, request, &response), IsGrpcOk());
  const v1::TrialComparison& comparison = response.comparison();
  EXPECT_EQ(comparison.gait(), gait_.name());
  EXPECT_EQ(comparison.figures(0).figure(), "stride");
  EXPECT_NEAR(comparison.figures(0).measured_si(), 0.007, 1e-9);
  EXPECT_EQ(comparison.figures(0).planned_si(), 0.008);
  EXPECT_NEAR(comparison.stride_difference_m(), -0.001, 1e-9);
  EXPECT_FALSE(comparison.differences().empty());
}

class TrialPoseServiceTest : public TrialServiceTest {
 protected:
  // All blocks of an answer, one after the other.
  grpc::Status Estimate(const v1::StreamTrialPoseRequest& request, v1::TrialPoseBlock* all) {
    all->Clear();
    grpc::ClientContext context;
    const auto reader = Stub()->StreamTrialPose(&context, request);
    v1::TrialPoseBlock block;
    while (reader->Read(&block)) {
      all->set_delay_s(block.delay_s());
      block.clear_delay_s();
      all->MergeFrom(block);
    }
    return reader->Finish();
  }
};

TEST_F(TrialPoseServiceTest, SendsThePoseAtEveryStep) {
  v1::StreamTrialPoseRequest request;
  request.set_name(UploadWalk());
  v1::TrialPoseBlock all;
  ASSERT_THAT(Estimate(request, &all), IsGrpcOk());
  // All logs are on one clock: nothing is late.
  EXPECT_EQ(all.delay_s(), 0.0);
  ASSERT_EQ(all.time_s_size(), 500);
  ASSERT_EQ(all.body_position_m_size(), 1500);
  ASSERT_EQ(all.body_attitude_rad_size(), 1500);
  for (int i = 100; i < 500; ++i) {
    EXPECT_NEAR(all.time_s(i), 1e-3 * i, 1e-12);
    // The legs of this log have nothing to do with its way of 70 mm/s; tracking pulls them along.
    EXPECT_NEAR(all.body_position_m(3 * i), 7e-5 * i, 2e-4);
  }
  request.set_sample_rate_hz(100.0);
  request.set_tracked_noise_m(1e-5);
  ASSERT_THAT(Estimate(request, &all), IsGrpcOk());
  EXPECT_EQ(all.time_s_size(), 50);
}

TEST_F(TrialPoseServiceTest, NeedsADelayWhereTrackingHasAClockOfItsOwn) {
  v1::Trial trial = Describe();
  v1::TrialGroup* camera = trial.add_groups();
  camera->set_name("camera");
  camera->set_clock(v1::TRIAL_CLOCK_TRACKING);
  camera->set_sample_rate_hz(100.0);
  camera->add_columns()->set_label("body y [mm]");
  std::vector<v1::TrialBlock> blocks = Walk();
  v1::TrialBlock& block = blocks.emplace_back();
  block.set_group_index(1);
  for (int i = 0; i < 50; ++i) {
    block.add_values_as_labelled(0.0);
  }
  v1::UploadTrialResponse uploaded;
  ASSERT_THAT(Upload(trial, blocks, &uploaded), IsGrpcOk());
  v1::StreamTrialPoseRequest request;
  request.set_name(uploaded.trial().name());
  v1::TrialPoseBlock all;
  EXPECT_THAT(Estimate(request, &all),
              IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("give delay_s")));
  request.set_delay_s(0.02);
  ASSERT_THAT(Estimate(request, &all), IsGrpcOk());
  EXPECT_EQ(all.delay_s(), 0.02);
}

TEST_F(TrialPoseServiceTest, NamesEveryFaultOfTheRequest) {
  v1::StreamTrialPoseRequest request;
  request.set_delay_s(-1.0);
  request.set_sample_rate_hz(1e6);
  request.set_tracked_noise_m(std::numeric_limits<double>::quiet_NaN());
  request.set_tracked_noise_rad(2.0);
  v1::TrialPoseBlock all;
  EXPECT_THAT(BadFieldsOf(Estimate(request, &all)),
              ElementsAre("delay_s", "sample_rate_hz", "tracked_noise_m", "tracked_noise_rad"));
  request.Clear();
  EXPECT_THAT(BadFieldsOf(Estimate(request, &all)), ElementsAre("name"));
  request.set_name("t-1");
  EXPECT_THAT(Estimate(request, &all), IsError(StatusCode::NOT_FOUND, HasSubstr("t-1")));
}

TEST_F(TrialServiceTest, RefusesToAnalyseWhatHasNoCycles) {
  v1::Trial tilt;
  tilt.set_kind(v1::TRIAL_KIND_TILT);
  tilt.set_surface("bench");
  v1::TrialGroup* group = tilt.add_groups();
  group->set_name("slides");
  group->set_clock(v1::TRIAL_CLOCK_BENCH);
  group->add_columns()->set_label("tilt [deg]");
  v1::TrialBlock block;
  block.add_values_as_labelled(26.0);
  v1::UploadTrialResponse uploaded;
  ASSERT_THAT(Upload(tilt, {block}, &uploaded), IsGrpcOk());
  v1::AnalyseTrialRequest request;
  request.set_name(uploaded.trial().name());
  const auto analyse = [&] {
    v1::AnalyseTrialResponse response;
    grpc::ClientContext context;
    return Stub()->AnalyseTrial(&context, request, &response);
  };
  EXPECT_THAT(analyse(), IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("bench test")));
  request.mutable_options()->set_greatest_delay_s(-1.0);
  EXPECT_THAT(BadFieldsOf(analyse()), ElementsAre("options.greatest_delay_s"));
  request.Clear();
  EXPECT_THAT(BadFieldsOf(analyse()), ElementsAre("name"));
  request.set_name("t-1");
  EXPECT_THAT(analyse(), IsError(StatusCode::NOT_FOUND, HasSubstr("t-1")));
}

}  // namespace
}  // namespace gaitshelf::service
