#include "service/api/play_session.h"

#include <algorithm>
#include <chrono>
#include <memory>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"
#include "tests/service/playback/samples.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::BadFieldsOf;
using test::IsError;
using test::IsGrpcOk;
using test::ReasonOf;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;

// A controller without a loop: it says that it has played all that came.
class Controller {
 public:
  explicit Controller(v1::PlaybackService::Stub* stub) : stream_(stub->PlaySession(&context_)) {}

  bool Send(v1::PlaySessionRequest request) {
    if (request.command_case() != v1::PlaySessionRequest::COMMAND_NOT_SET) {
      request.set_sequence(++sequence_);
    }
    request.set_played_sample_count(received_);
    return stream_->Write(request);
  }
  bool Arm(const v1::ArmSession& arm) {
    v1::PlaySessionRequest request;
    *request.mutable_arm() = arm;
    return Send(request);
  }
  bool Start() {
    v1::PlaySessionRequest request;
    request.mutable_start();
    return Send(request);
  }
  bool Switch(const std::string& gait) {
    v1::PlaySessionRequest request;
    request.mutable_switch_gait()->set_gait(gait);
    return Send(request);
  }
  bool Slow(double pace_ratio) {
    v1::PlaySessionRequest request;
    request.mutable_change_rate()->set_pace_ratio(pace_ratio);
    return Send(request);
  }
  bool Stop() {
    v1::PlaySessionRequest request;
    request.mutable_stop();
    return Send(request);
  }
  // Receives one response; false at the end.
  bool Receive() {
    v1::PlaySessionResponse response;
    if (!stream_->Read(&response)) {
      return false;
    }
    for (const v1::CommandAnswer& answer : response.answers()) {
      if (answer.has_limits()) {
        limits = answer.limits();
        watch_ = std::make_unique<test::LimitWatch>(limits);
      }
      answers.push_back(answer);
    }
    for (const v1::StateChange& change : response.changes()) {
      states.push_back(change.state());
    }
    if (response.has_block()) {
      EXPECT_EQ(response.block().first_sample(), received_);
      watch_->Check(response.block());
      received_ += response.block().sample_count();
      last = response.block();
    }
    return true;
  }
  bool HasBeen(v1::SessionState state) const {
    return std::find(states.begin(), states.end(), state) != states.end();
  }
  void ReceiveUntil(v1::SessionState state) {
    while (!HasBeen(state) && Receive()) {
      Send({});
    }
  }
  grpc::Status End() {
    while (Receive()) {
    }
    return stream_->Finish();
  }
  void EndMessages() { stream_->WritesDone(); }
  void Cancel() { context_.TryCancel(); }
  std::int64_t received() const { return received_; }

  std::vector<v1::CommandAnswer> answers;
  std::vector<v1::SessionState> states;
  v1::SessionLimits limits;
  v1::SetpointBlock last;

 private:
  grpc::ClientContext context_;
  std::unique_ptr<grpc::ClientReaderWriter<v1::PlaySessionRequest, v1::PlaySessionResponse>>
      stream_;
  std::unique_ptr<test::LimitWatch> watch_;
  std::int64_t sequence_ = 0;
  std::int64_t received_ = 0;
};

class PlaySessionTest : public test::ServedLibrary {
 protected:
  void SetUp() override {
    options_.playback.sessions.total = 3;
    ServedLibrary::SetUp();
    StoreDescriptions();
    slow_ = StoreNamed("g-slow", 3.0, v1::VERDICT_GOOD);
    quick_ = StoreNamed("g-quick", 10.0, v1::VERDICT_GOOD);
  }

  std::string StoreNamed(const std::string& name, double frequency_hz, v1::Verdict verdict) {
    v1::Gait gait = test::MakeSineGait(robot_, {.frequency_hz = frequency_hz});
    gait.set_name(name);
    gait.set_robot_digest(solver::RobotDigest(robot_));
    gait.set_surface_digest(solver::SurfaceDigest(surface_));
    gait.mutable_audit()->set_verdict(verdict);
    EXPECT_TRUE(library_->InsertGait(gait, name).ok());
    return name;
  }

  v1::ArmSession MakeArm() const {
    v1::ArmSession arm;
    arm.add_gaits(slow_);
    arm.add_gaits(quick_);
    arm.set_armed_by("ada");
    arm.set_drive("bench");
    arm.set_silence_s(silence_s_);
    return arm;
  }

  std::unique_ptr<Controller> Connect() {
    return std::make_unique<Controller>(playback_stub_.get());
  }
  std::unique_ptr<Controller> Playing() {
    auto controller = Connect();
    controller->Arm(MakeArm());
    controller->Receive();
    controller->Start();
    controller->ReceiveUntil(v1::SESSION_STATE_PLAYING);
    return controller;
  }

  grpc::Status Refused(const v1::ArmSession& arm) {
    const auto controller = Connect();
    controller->Arm(arm);
    return controller->End();
  }

  std::string slow_;
  std::string quick_;
  // Long: on a busy machine a controller may be late by more than the usual half a second.
  double silence_s_ = 10.0;
};

TEST_F(PlaySessionTest, PlaysSwitchesAndEndsAtRest) {
  const auto controller = Playing();
  controller->Switch(quick_);
  controller->ReceiveUntil(v1::SESSION_STATE_SWITCHING);
  controller->Stop();
  EXPECT_THAT(controller->End(), IsGrpcOk());
  EXPECT_EQ(controller->states.back(), v1::SESSION_STATE_RESTED);
  test::ExpectAtRest(controller->last, controller->limits);
  ASSERT_EQ(controller->answers.size(), 4U);
  for (const v1::CommandAnswer& answer : controller->answers) {
    EXPECT_TRUE(answer.is_accepted()) << answer.problem();
  }
  EXPECT_THAT(log_.lines(), Contains(HasSubstr("mode=armed drive=bench armed_by=ada")));
}

// Every sample that comes over the wire is held against the limits, and the first of every block
// against the last of the one before.
TEST_F(PlaySessionTest, AStormOfSwitchesStaysWithinLimits) {
  std::mt19937 random(6);
  const auto controller = Playing();
  for (int i = 0; i < 200; ++i) {
    const int choice = std::uniform_int_distribution<int>(0, 3)(random);
    if (choice == 3) {
      controller->Slow(std::uniform_real_distribution<double>(0.05, 1.0)(random));
    } else {
      controller->Switch(choice == 0 ? slow_ : quick_);
    }
    const std::int64_t before = controller->received();
    while (controller->received() == before) {
      ASSERT_TRUE(controller->Receive());
      controller->Send({});
    }
  }
  controller->Stop();
  EXPECT_THAT(controller->End(), IsGrpcOk());
  test::ExpectAtRest(controller->last, controller->limits);
  for (const v1::CommandAnswer& answer : controller->answers) {
    EXPECT_TRUE(answer.is_accepted()) << answer.problem();
  }
  EXPECT_GT(
      std::count(controller->states.begin(), controller->states.end(), v1::SESSION_STATE_SWITCHING),
      10);
}

TEST_F(PlaySessionTest, TheEndOfTheMessagesLeadsToRest) {
  const auto controller = Playing();
  controller->EndMessages();
  EXPECT_THAT(controller->End(), IsGrpcOk());
  test::ExpectAtRest(controller->last, controller->limits);
}

TEST_F(PlaySessionTest, ASilentControllerIsLedToRest) {
  silence_s_ = 0.5;
  const auto controller = Playing();
  EXPECT_THAT(controller->End(), IsError(StatusCode::ABORTED, HasSubstr("sign of life")));
  test::ExpectAtRest(controller->last, controller->limits);
}

TEST_F(PlaySessionTest, AServerThatStopsLeadsToRest) {
  const auto controller = Playing();
  std::thread stopping([this] { server_->Stop(); });
  const grpc::Status status = controller->End();
  stopping.join();
  EXPECT_THAT(status, IsError(StatusCode::UNAVAILABLE, HasSubstr("the server stops")));
  test::ExpectAtRest(controller->last, controller->limits);
}

TEST_F(PlaySessionTest, AMessageThatBreaksARuleLeadsToRest) {
  const auto controller = Playing();
  controller->Arm(MakeArm());
  EXPECT_THAT(controller->End(), IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("armed once")));
  test::ExpectAtRest(controller->last, controller->limits);
}

TEST_F(PlaySessionTest, ADriveIsArmedOnceAndFreeAfterTheSession) {
  const auto controller = Playing();
  const grpc::Status status = Refused(MakeArm());
  EXPECT_THAT(status, IsError(StatusCode::ALREADY_EXISTS, HasSubstr("'bench'")));
  EXPECT_EQ(ReasonOf(status), "DRIVE_ARMED");
  controller->Cancel();
  EXPECT_THAT(controller->End(), IsError(StatusCode::CANCELLED, HasSubstr("")));
  // The server hears of that a moment later.
  silence_s_ = 0.5;
  grpc::Status again = Refused(MakeArm());
  while (again.error_code() == StatusCode::ALREADY_EXISTS) {
    again = Refused(MakeArm());
  }
  EXPECT_THAT(again, IsError(StatusCode::ABORTED, HasSubstr("sign of life")));
}

TEST_F(PlaySessionTest, RefusesWhatCannotBeArmed) {
  const auto first = Connect();
  first->Start();
  EXPECT_THAT(first->End(), IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("first message")));
  const auto none = Connect();
  none->EndMessages();
  EXPECT_THAT(none->End(), IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("nothing was armed")));
  v1::ArmSession arm = MakeArm();
  arm.clear_armed_by();
  EXPECT_THAT(Refused(arm), IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("present person")));
  arm = MakeArm();
  arm.clear_drive();
  EXPECT_THAT(BadFieldsOf(Refused(arm)), ElementsAre("arm.drive"));
  arm = MakeArm();
  arm.set_lead_s(5.0);
  arm.clear_gaits();
  EXPECT_THAT(BadFieldsOf(Refused(arm)), ElementsAre("gaits", "lead_s"));
  arm = MakeArm();
  arm.add_gaits("g-0");
  EXPECT_THAT(Refused(arm), IsError(StatusCode::NOT_FOUND, HasSubstr("g-0")));
  arm = MakeArm();
  arm.add_gaits(StoreNamed("g-failed", 5.0, v1::VERDICT_FAILED));
  EXPECT_THAT(Refused(arm), IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("not good")));
}

TEST_F(PlaySessionTest, RefusesMoreSessionsThanItsLimitAtOnce) {
  std::vector<std::unique_ptr<Controller>> controllers;
  for (int i = 0; i < 3; ++i) {
    v1::ArmSession arm = MakeArm();
    arm.set_drive(absl::StrCat("bench-", i));
    controllers.push_back(Connect());
    controllers.back()->Arm(arm);
    ASSERT_TRUE(controllers.back()->Receive());
  }
  const grpc::Status status = Refused(MakeArm());
  EXPECT_THAT(status, IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("3 sessions")));
  EXPECT_EQ(ReasonOf(status), "TOO_MANY_SESSIONS");
}

}  // namespace
}  // namespace gaitshelf::service
