// Runs loops against a real server on a Unix socket.
#include "clients/controller/controller.h"

#include <atomic>
#include <chrono>
#include <cmath>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using std::chrono::milliseconds;
using test::HasStatus;
using test::IsOk;
using testing::HasSubstr;

class ControllerTest : public test::ServedLibrary {
 protected:
  void SetUp() override {
    ServedLibrary::SetUp();
    StoreDescriptions();
    for (const double frequency_hz : {3.0, 10.0}) {
      v1::Gait gait = test::MakeSineGait(robot_, {.frequency_hz = frequency_hz});
      gait.set_name(absl::StrCat("g-", frequency_hz));
      gait.set_robot_digest(solver::RobotDigest(robot_));
      ASSERT_TRUE(library_->InsertGait(gait, gait.name()).ok());
    }
    controller_options_.gaits = {"g-3", "g-10"};
    controller_options_.armed_by = "ada";
    controller_options_.drive = "bench";
    controller_options_.confirm = [] { return true; };
    // On a busy machine a loop may stand still for longer than the usual half a second.
    controller_options_.silence_s = 10.0;
  }

  void Arm() {
    auto controller = Controller::Arm(channel_, controller_options_);
    ASSERT_THAT(controller, IsOk());
    controller_ = *std::move(controller);
  }

  // A loop of 1 kHz that holds every setpoint against the limits, until it rests.
  void RunLoop() {
    Setpoint before;
    controller_->Next(&before);
    const Limits& limits = controller_->limits();
    auto next = std::chrono::steady_clock::now();
    PlayState state = PlayState::kWaiting;
    const auto limit = next + std::chrono::seconds(30);
    while (state != PlayState::kRested) {
      ASSERT_LT(next, limit);
      next += milliseconds(1);
      std::this_thread::sleep_until(next);
      Setpoint now;
      state = controller_->Next(&now);
      for (std::size_t i = 0; i < limits.channel_count; ++i) {
        // 1e-8: rounding. This holds the client's own clamp; that nothing was left for it to do is
        // the last check.
        ASSERT_LE(std::abs(now.position_m[i] - before.position_m[i]),
                  limits.leg_rate_m_per_s[i] * 1e-3 * (1.0 + 1e-8));
        ASSERT_LE(std::abs(now.voltage_v[i] - before.voltage_v[i]),
                  limits.slew_v_per_s[i] * 1e-3 * (1.0 + 1e-8));
      }
      before = now;
    }
    for (std::size_t i = 0; i < limits.channel_count; ++i) {
      EXPECT_EQ(before.position_m[i], limits.rest_position_m[i]);
      EXPECT_EQ(before.voltage_v[i], limits.rest_voltage_v[i]);
    }
    EXPECT_EQ(controller_->held_back_count(), 0);
  }

  absl::Status AwaitEnd() {
    while (absl::IsUnknown(controller_->end())) {
      std::this_thread::sleep_for(milliseconds(5));
    }
    return controller_->end();
  }

  ControllerOptions controller_options_;
  std::unique_ptr<Controller> controller_;
};

TEST_F(ControllerTest, PlaysSwitchesSlowsAndRests) {
  Arm();
  std::thread loop([this] { RunLoop(); });
  EXPECT_THAT(controller_->Start(), IsOk());
  std::this_thread::sleep_for(milliseconds(900));
  EXPECT_THAT(controller_->SwitchTo("g-10", std::nullopt), IsOk());
  EXPECT_THAT(controller_->SwitchTo("g-other", std::nullopt),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("UNKNOWN_GAIT")));
  EXPECT_THAT(controller_->SetPace(0.5), IsOk());
  std::this_thread::sleep_for(milliseconds(500));
  EXPECT_THAT(controller_->Stop(), IsOk());
  loop.join();
  EXPECT_THAT(AwaitEnd(), IsOk());
  EXPECT_EQ(controller_->underrun_count(), 0);
  EXPECT_GT(controller_->played_count(), 1500);
  EXPECT_THAT(controller_->Start(), HasStatus(absl::StatusCode::kUnavailable, HasSubstr("ended")));
}

TEST_F(ControllerTest, ArmsNothingWithoutAPersonsYes) {
  controller_options_.confirm = nullptr;
  EXPECT_THAT(Controller::Arm(channel_, controller_options_),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("confirm is missing")));
  controller_options_.confirm = [] { return false; };
  EXPECT_THAT(Controller::Arm(channel_, controller_options_),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("did not arm")));
  controller_options_.confirm = [] { return true; };
  controller_options_.armed_by = "";
  EXPECT_THAT(Controller::Arm(channel_, controller_options_),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("armed_by is missing")));
}

TEST_F(ControllerTest, TakesTheDriveOnlyAfterThePersonsYes) {
  bool is_free = false;
  controller_options_.confirm = [&] {
    ControllerOptions other = controller_options_;
    other.confirm = [] { return true; };
    is_free = Controller::Arm(channel_, other).ok();
    return true;
  };
  Arm();
  EXPECT_TRUE(is_free);
  controller_options_.confirm = [] { return true; };
  EXPECT_THAT(Controller::Arm(channel_, controller_options_),
              HasStatus(absl::StatusCode::kAlreadyExists, HasSubstr("armed by another")));
}

TEST_F(ControllerTest, TellsWhyItCannotArm) {
  controller_options_.gaits = {"g-0"};
  EXPECT_THAT(Controller::Arm(channel_, controller_options_),
              HasStatus(absl::StatusCode::kNotFound, HasSubstr("g-0")));
}

// The buffer outlasts the server by its lead; then the loop is alone.
TEST_F(ControllerTest, RestsWhenTheServerIsGone) {
  Arm();
  std::thread loop([this] { RunLoop(); });
  EXPECT_THAT(controller_->Start(), IsOk());
  std::this_thread::sleep_for(milliseconds(900));
  server_->Stop();
  loop.join();
  EXPECT_THAT(AwaitEnd(), HasStatus(absl::StatusCode::kUnavailable, HasSubstr("server stops")));
}

TEST_F(ControllerTest, RestsWhenToldToWithoutTheServer) {
  Arm();
  std::thread loop([this] { RunLoop(); });
  EXPECT_THAT(controller_->Start(), IsOk());
  std::this_thread::sleep_for(milliseconds(900));
  controller_->RampDown();
  loop.join();
  EXPECT_THAT(AwaitEnd(), IsOk());
}

TEST_F(ControllerTest, TakesTheServersOwnLeadUnlessToldAnother) {
  Arm();
  EXPECT_EQ(controller_->limits().lead_s, 0.4);
  std::thread loop([this] { RunLoop(); });
  EXPECT_THAT(controller_->Start(), IsOk());
  std::this_thread::sleep_for(milliseconds(500));
  EXPECT_THAT(controller_->Stop(), IsOk());
  loop.join();
  EXPECT_EQ(controller_->underrun_count(), 0);
}

// Shorter than the buffer: its first fill never comes.
TEST_F(ControllerTest, PlaysASessionThatIsShorterThanItsBuffer) {
  controller_options_.lead_s = 2.0;
  Arm();
  std::thread loop([this] { RunLoop(); });
  EXPECT_THAT(controller_->Start(), IsOk());
  EXPECT_THAT(controller_->Stop(), IsOk());
  loop.join();
  EXPECT_THAT(AwaitEnd(), IsOk());
  EXPECT_GT(controller_->played_count(), 0);
  EXPECT_EQ(controller_->underrun_count(), 0);
}

TEST_F(ControllerTest, RestsWhenStoppedBeforeItsStart) {
  Arm();
  std::thread loop([this] { RunLoop(); });
  EXPECT_THAT(controller_->Stop(), IsOk());
  loop.join();
  EXPECT_THAT(AwaitEnd(), IsOk());
  EXPECT_EQ(controller_->played_count(), 0);
}

TEST_F(ControllerTest, RestsWhenTheServerGoesBeforeItsStart) {
  Arm();
  std::thread loop([this] { RunLoop(); });
  server_->Stop();
  loop.join();
  EXPECT_THAT(AwaitEnd(), HasStatus(absl::StatusCode::kUnavailable, HasSubstr("server stops")));
  EXPECT_EQ(controller_->underrun_count(), 0);
}

// The server leads a loop that stands still to rest, and frees the drive.
TEST_F(ControllerTest, ALoopThatStandsStillLosesItsSession) {
  controller_options_.silence_s = 0.5;
  Arm();
  EXPECT_THAT(controller_->Start(), IsOk());
  EXPECT_THAT(AwaitEnd(), HasStatus(absl::StatusCode::kAborted, HasSubstr("no sample")));
  RunLoop();
  controller_.reset();
  Arm();
}

// Takes a session, and answers nothing after ArmSession, or not even that.
class SilentServer final : public v1::PlaybackService::Service {
 public:
  SilentServer(const std::string& address, bool is_arming) : is_arming_(is_arming) {
    grpc::ServerBuilder builder;
    builder.AddListeningPort(address, grpc::InsecureServerCredentials());
    builder.RegisterService(this);
    server_ = builder.BuildAndStart();
  }

 private:
  grpc::Status PlaySession(
      grpc::ServerContext* context,
      grpc::ServerReaderWriter<v1::PlaySessionResponse, v1::PlaySessionRequest>* stream) override {
    v1::PlaySessionRequest request;
    stream->Read(&request);
    if (is_arming_) {
      v1::PlaySessionResponse response;
      v1::CommandAnswer& answer = *response.add_answers();
      answer.set_sequence(1);
      answer.set_is_accepted(true);
      answer.mutable_limits()->set_sample_rate_hz(1000.0);
      answer.mutable_limits()->set_lead_s(0.25);
      stream->Write(response);
    }
    while (!context->IsCancelled()) {
      std::this_thread::sleep_for(milliseconds(2));
    }
    return grpc::Status::CANCELLED;
  }

  const bool is_arming_;
  std::unique_ptr<grpc::Server> server_;
};

TEST_F(ControllerTest, DoesNotWaitForEverForAServerThatIsSilent) {
  controller_options_.answer_limit_s = 0.2;
  const auto is_given_up = HasStatus(absl::StatusCode::kDeadlineExceeded, HasSubstr("0.2 s"));
  const auto serve = [this](const std::string& name, bool is_arming) {
    const std::string address = absl::StrCat("unix:", folder_.File(name));
    channel_ = grpc::CreateChannel(address, grpc::InsecureChannelCredentials());
    return std::make_unique<SilentServer>(address, is_arming);
  };
  const auto dumb = serve("dumb", false);
  EXPECT_THAT(Controller::Arm(channel_, controller_options_), is_given_up);
  const auto silent = serve("silent", true);
  Arm();
  EXPECT_THAT(controller_->Stop(), is_given_up);
  RunLoop();
  EXPECT_THAT(AwaitEnd(), is_given_up);
  Arm();
  controller_.reset();  // this alone must give up as well
}

}  // namespace
}  // namespace gaitshelf::client
