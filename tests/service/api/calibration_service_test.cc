// Covers service/api/run_calibration.cc
#include "service/api/calibration_service.h"

#include <memory>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "service/library/trial_name.h"
#include "tests/service/api/served_library.h"
#include "tests/support/bench_trial.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::BadFieldsOf;
using test::IsError;
using test::IsGrpcOk;
using testing::ElementsAre;
using testing::HasSubstr;

class CalibrationServiceTest : public test::ServedLibrary {
 protected:
  void SetUp() override {
    ServedLibrary::SetUp();
    StoreDescriptions();
    stub_ = v1::CalibrationService::NewStub(channel_);
  }

  // Stores a made-up trial and returns its name.
  std::string Store(test::ReadTrial read) {
    v1::Trial trial = *read.trial;
    trial.clear_name();
    if (!trial.robot().empty()) {
      trial.set_robot_digest(solver::RobotDigest(robot_));
    }
    if (!trial.surface().empty()) {
      trial.set_surface_digest(solver::SurfaceDigest(surface_));
    }
    std::vector<std::string> blocks;
    for (const v1::TrialBlock& block : read.blocks) {
      blocks.push_back(block.SerializeAsString());
    }
    trial.set_name(TrialName(trial, blocks).value());
    EXPECT_TRUE(library_->InsertTrial(trial, blocks).ok());
    return trial.name();
  }
  std::string StoreTilt(double friction) {
    return Store(test::MakeTiltTrial({.friction = friction}));
  }
  std::string StoreRingDown() { return Store(test::MakeLegTrial(robot_, test::RingDown(1))); }

  grpc::Status Calibrate(const std::vector<std::string>& trials, v1::Calibration* calibration) {
    v1::CalibrateRequest request;
    for (const std::string& trial : trials) {
      request.add_trials(trial);
    }
    return Calibrate(request, calibration);
  }
  grpc::Status Calibrate(const v1::CalibrateRequest& request, v1::Calibration* calibration) {
    grpc::ClientContext context;
    const auto reader = stub_->Calibrate(&context, request);
    v1::CalibrateResponse response;
    progress_count_ = 0;
    while (reader->Read(&response)) {
      progress_count_ += response.has_progress() ? 1 : 0;
      if (response.has_calibration()) {
        *calibration = response.calibration();
      }
    }
    return reader->Finish();
  }
  // Starts a calibration and waits until it is under way. The fit of a robot's legs takes seconds,
  // and looks at its caller many times a second.
  std::unique_ptr<grpc::ClientReader<v1::CalibrateResponse>> StartFit(
      grpc::ClientContext* context) {
    v1::CalibrateRequest request;
    request.add_trials(StoreRingDown());
    auto reader = stub_->Calibrate(context, request);
    v1::CalibrateResponse response;
    EXPECT_TRUE(reader->Read(&response));
    return reader;
  }
  grpc::Status Accept(const std::string& name, v1::AcceptCalibrationResponse* response) {
    v1::AcceptCalibrationRequest request;
    request.set_name(name);
    grpc::ClientContext context;
    return stub_->AcceptCalibration(&context, request, response);
  }

  std::unique_ptr<v1::CalibrationService::Stub> stub_;
  int progress_count_ = 0;
};

TEST_F(CalibrationServiceTest, CalibratesKeepsAndAcceptsOnlyWhenItIsTold) {
  const std::string trial = StoreTilt(0.41);
  v1::Calibration calibration;
  ASSERT_THAT(Calibrate({trial}, &calibration), IsGrpcOk());
  EXPECT_GE(progress_count_, 2);
  EXPECT_THAT(calibration.name(), testing::MatchesRegex("c-[0-9a-f]{32}"));
  EXPECT_EQ(calibration.surface(), "bench");
  EXPECT_TRUE(calibration.robot().empty());
  EXPECT_THAT(calibration.trials(), ElementsAre(trial));
  const double found = calibration.calibrated_surface().friction_coefficient();
  EXPECT_NEAR(found, 0.41, 0.02);
  EXPECT_EQ(library_->GetSurface("bench", "")->surface().friction_coefficient(), 0.5);
  // The same again is the same.
  v1::Calibration again;
  ASSERT_THAT(Calibrate({trial}, &again), IsGrpcOk());
  EXPECT_EQ(again.SerializeAsString(), calibration.SerializeAsString());
  v1::ListCalibrationsRequest list;
  v1::ListCalibrationsResponse page;
  grpc::ClientContext list_context;
  ASSERT_THAT(stub_->ListCalibrations(&list_context, list, &page), IsGrpcOk());
  EXPECT_EQ(page.calibrations_size(), 1);

  v1::AcceptCalibrationResponse accepted;
  for (int time = 0; time < 2; ++time) {
    ASSERT_THAT(Accept(calibration.name(), &accepted), IsGrpcOk());
    EXPECT_FALSE(accepted.has_robot());
    EXPECT_EQ(accepted.surface().version(), 2);
    EXPECT_EQ(accepted.surface().digest(), calibration.calibrated_surface_digest());
    EXPECT_THAT(accepted.surface().surface().title(), HasSubstr(calibration.name()));
  }
  EXPECT_EQ(library_->GetSurface("bench", "")->surface().friction_coefficient(), found);
  EXPECT_EQ(
      library_->GetSurface("bench", calibration.surface_digest())->surface().friction_coefficient(),
      0.5);
}

TEST_F(CalibrationServiceTest, DoesNotAcceptOverANewerVersion) {
  v1::Calibration calibration;
  ASSERT_THAT(Calibrate({StoreTilt(0.41)}, &calibration), IsGrpcOk());
  const v1::Surface other = test::MakeSurface(0.7);
  ASSERT_TRUE(library_->PutSurface(other, solver::SurfaceDigest(other), "ada").ok());
  v1::AcceptCalibrationResponse accepted;
  EXPECT_THAT(Accept(calibration.name(), &accepted),
              IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("another current version")));
  EXPECT_EQ(library_->GetSurface("bench", "")->surface().friction_coefficient(), 0.7);
}

TEST_F(CalibrationServiceTest, CalibratesLegsByABenchTest) {
  const std::string trial = StoreRingDown();
  v1::Calibration calibration;
  ASSERT_THAT(Calibrate({trial, StoreTilt(0.5)}, &calibration), IsGrpcOk());
  EXPECT_EQ(calibration.robot(), "quadruped");
  EXPECT_TRUE(calibration.has_calibrated_robot());
  v1::AcceptCalibrationResponse accepted;
  ASSERT_THAT(Accept(calibration.name(), &accepted), IsGrpcOk());
  EXPECT_EQ(accepted.robot().version(), 2);
  EXPECT_EQ(accepted.surface().version(), 2);
}

TEST_F(CalibrationServiceTest, KeepsNothingWhenTheCallerGoes) {
  grpc::ClientContext context;
  const auto reader = StartFit(&context);
  context.TryCancel();
  EXPECT_EQ(reader->Finish().error_code(), StatusCode::CANCELLED);
  server_->Stop();
  EXPECT_TRUE(library_->ListCalibrations({}, {})->calibrations.empty());
}

TEST_F(CalibrationServiceTest, TellsToAskAgainWhenTheServerStops) {
  grpc::ClientContext context;
  const auto reader = StartFit(&context);
  server_->Stop();
  v1::CalibrateResponse response;
  while (reader->Read(&response)) {
    EXPECT_FALSE(response.has_calibration());
  }
  EXPECT_EQ(reader->Finish().error_code(), StatusCode::UNAVAILABLE);
  EXPECT_TRUE(library_->ListCalibrations({}, {})->calibrations.empty());
}

TEST_F(CalibrationServiceTest, RefusesWhatCannotBeDone) {
  v1::Calibration calibration;
  grpc::Status status = Calibrate(std::vector<std::string>(), &calibration);
  EXPECT_THAT(BadFieldsOf(status), ElementsAre("trials"));
  const std::string tilt = StoreTilt(0.4);
  v1::CalibrateRequest request;
  request.add_trials(tilt);
  request.add_trials(tilt);
  request.mutable_options()->set_tilt_uncertainty_rad(-1.0);
  EXPECT_THAT(BadFieldsOf(Calibrate(request, &calibration)),
              ElementsAre("options.tilt_uncertainty_rad", "trials[1]"));
  EXPECT_THAT(Calibrate({"t-0"}, &calibration), IsError(StatusCode::NOT_FOUND, HasSubstr("t-0")));
  test::ReadTrial other = test::MakeTiltTrial({.friction = 0.3, .rng = 2});
  other.trial->set_surface("felt");
  const std::string of_other = Store(std::move(other));
  EXPECT_THAT(BadFieldsOf(Calibrate({tilt, of_other}, &calibration)), ElementsAre("trials[1]"));
  test::ReadTrial walk = test::MakeTiltTrial({.friction = 0.3, .rng = 3});
  walk.trial->set_kind(v1::TRIAL_KIND_GAIT);
  const std::string of_gait = Store(std::move(walk));
  status = Calibrate({of_gait}, &calibration);
  EXPECT_THAT(status, IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("gait is missing")));
  EXPECT_TRUE(library_->ListCalibrations({}, {})->calibrations.empty());
  v1::AcceptCalibrationResponse accepted;
  EXPECT_THAT(Accept("c-0", &accepted), IsError(StatusCode::NOT_FOUND, HasSubstr("c-0")));
  EXPECT_THAT(BadFieldsOf(Accept("", &accepted)), ElementsAre("name"));
  v1::GetCalibrationRequest get;
  grpc::ClientContext context;
  EXPECT_THAT(BadFieldsOf(stub_->GetCalibration(&context, get, &calibration)), ElementsAre("name"));
}

TEST_F(CalibrationServiceTest, ReplaysAGaitOnAnyVersion) {
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  v1::ReplayGaitRequest request;
  v1::ReplayGaitResponse response;
  {
    grpc::ClientContext context;
    EXPECT_THAT(BadFieldsOf(stub_->ReplayGait(&context, request, &response)), ElementsAre("gait"));
  }
  request.set_gait(gait.name());
  grpc::ClientContext context;
  // The made-up gait may fall; then it says so.
  ASSERT_THAT(stub_->ReplayGait(&context, request, &response), IsGrpcOk());
  EXPECT_TRUE(!response.trouble().empty() || response.replay().cycle_advance_m_size() > 1);
  request.set_robot_digest("0123");
  grpc::ClientContext other_context;
  EXPECT_THAT(stub_->ReplayGait(&other_context, request, &response),
              IsError(StatusCode::NOT_FOUND, HasSubstr("0123")));
}

TEST_F(CalibrationServiceTest, OrdersGaitsForAVersionThatIsNotCurrent) {
  v1::Calibration calibration;
  ASSERT_THAT(Calibrate({StoreTilt(0.41)}, &calibration), IsGrpcOk());
  v1::OrderGaitRequest request;
  *request.mutable_order() = MakeOrder();
  request.set_surface_digest(calibration.calibrated_surface_digest());
  v1::OrderGaitResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(job_stub_->OrderGait(&context, request, &response), IsGrpcOk());
  const auto claimed = library_->ClaimNextJob("test");
  ASSERT_TRUE(claimed.ok() && claimed->has_value());
  EXPECT_EQ((*claimed)->surface_digest, calibration.calibrated_surface_digest());
  EXPECT_EQ((*claimed)->robot_digest, solver::RobotDigest(robot_));
  request.set_surface_digest("0123");
  grpc::ClientContext other_context;
  EXPECT_THAT(job_stub_->OrderGait(&other_context, request, &response),
              IsError(StatusCode::NOT_FOUND, HasSubstr("0123")));
}

}  // namespace
}  // namespace gaitshelf::service
