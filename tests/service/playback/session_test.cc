#include "service/playback/session.h"

#include <chrono>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "service/playback/armed_drives.h"
#include "service/playback/check_session.h"
#include "tests/service/playback/samples.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using std::chrono::milliseconds;
using test::HasStatus;
using test::IsOk;
using testing::ElementsAre;
using testing::HasSubstr;

PlayableGait MakePlayableSine(const v1::Robot& robot, double frequency_hz) {
  return MakePlayable(test::MakeSineGait(robot, {.frequency_hz = frequency_hz}), robot).value();
}

SessionSampler MakeSampler() {
  const v1::Robot robot = test::MakeQuadruped();
  std::vector<PlayableGait> gaits = {MakePlayableSine(robot, 3.0), MakePlayableSine(robot, 10.0)};
  gaits[0].name = "g-slow";
  gaits[1].name = "g-quick";
  return SessionSampler::Create(std::move(gaits), robot, {}).value();
}

v1::ArmSession MakeArm() {
  v1::ArmSession arm;
  arm.set_is_preview(true);
  SetDefaults(&arm);
  return arm;
}

class SessionTest : public testing::Test {
 protected:
  // A message with the next number when it carries a command.
  v1::PlaySessionRequest Message() const {
    v1::PlaySessionRequest request;
    request.set_played_sample_count(played_);
    return request;
  }
  void Command(v1::PlaySessionRequest request) {
    request.set_sequence(++sequence_);
    session_.Take(request, now_);
  }
  void Start() {
    v1::PlaySessionRequest request = Message();
    request.mutable_start();
    Command(request);
  }
  void Stop() {
    v1::PlaySessionRequest request = Message();
    request.mutable_stop();
    Command(request);
  }
  // Takes all that is due.
  void Receive() {
    v1::PlaySessionResponse response;
    while (session_.NextResponse(now_, &response)) {
      for (const v1::CommandAnswer& answer : response.answers()) {
        answers_.push_back(answer);
        if (answer.has_limits()) {
          watch_.emplace(answer.limits());
        }
      }
      for (const v1::StateChange& change : response.changes()) {
        state_ = change.state();
      }
      if (response.has_block()) {
        last_ = response.block();
        watch_->Check(last_);
        sent_ += last_.sample_count();
      }
    }
  }
  // A controller that plays at 1 kHz and speaks every 20 ms.
  void Run(milliseconds time) {
    for (milliseconds t(0); t < time; t += milliseconds(20)) {
      now_ += milliseconds(20);
      played_ = std::min(played_ + 20, sent_);
      session_.Take(Message(), now_);
      Receive();
    }
  }

  Session::Clock::time_point now_;
  Session session_{MakeSampler(), MakeArm(), now_};
  std::int64_t sequence_ = 1;
  std::int64_t played_ = 0;
  std::int64_t sent_ = 0;
  std::vector<v1::CommandAnswer> answers_;
  std::optional<test::LimitWatch> watch_;
  v1::SetpointBlock last_;
  v1::SessionState state_ = v1::SESSION_STATE_UNSPECIFIED;
};

TEST_F(SessionTest, KeepsTheBufferFilledAndEndsAtRest) {
  Receive();
  ASSERT_EQ(answers_.size(), 1U);
  EXPECT_TRUE(answers_[0].is_accepted());
  EXPECT_EQ(answers_[0].limits().lead_s(), 0.4);
  EXPECT_EQ(sent_, 0);
  Start();
  Receive();
  EXPECT_EQ(sent_, 400);
  Run(milliseconds(2000));
  EXPECT_EQ(state_, v1::SESSION_STATE_PLAYING);
  EXPECT_LE(sent_ - played_, 400);
  EXPECT_GE(sent_ - played_, 400 - 50 - 20);  // a message, and how often it looks
  Stop();
  Run(milliseconds(1000));
  EXPECT_TRUE(session_.is_finished());
  EXPECT_THAT(session_.end(), IsOk());
  EXPECT_EQ(state_, v1::SESSION_STATE_RESTED);
  test::ExpectAtRest(last_, answers_[0].limits());
  EXPECT_EQ(session_.played_count(), played_);
}

TEST_F(SessionTest, AnswersEveryCommandAndRefusesWhatItCannotDo) {
  v1::PlaySessionRequest wrong_gait = Message();
  wrong_gait.mutable_switch_gait()->set_gait("g-other");
  Command(wrong_gait);
  v1::PlaySessionRequest wrong_pace = Message();
  wrong_pace.mutable_change_rate()->set_pace_ratio(2.0);
  Command(wrong_pace);
  Start();
  Start();
  v1::PlaySessionRequest slower = Message();
  slower.mutable_change_rate()->set_pace_ratio(0.5);
  slower.mutable_change_rate()->set_sample_rate_hz(2000.0);
  Command(slower);
  v1::PlaySessionRequest quick = Message();
  quick.mutable_switch_gait()->set_gait("g-quick");
  Command(quick);
  Receive();
  std::vector<std::string> reasons;
  for (const v1::CommandAnswer& answer : answers_) {
    reasons.push_back(answer.reason());
    EXPECT_EQ(answer.is_accepted(), answer.reason().empty());
    EXPECT_EQ(answer.is_accepted(), answer.problem().empty());
  }
  EXPECT_THAT(reasons, ElementsAre("", "UNKNOWN_GAIT", "OUT_OF_RANGE", "", "STARTED", "", ""));
  EXPECT_THAT(answers_[2].problem(), HasSubstr("pace_ratio is 2"));
  Run(milliseconds(3000));
  EXPECT_EQ(last_.sample_period_s(), 0.0005);
  Stop();
  v1::PlaySessionRequest late = Message();
  late.mutable_switch_gait()->set_gait("g-slow");
  Command(late);
  Receive();
  EXPECT_EQ(answers_.back().reason(), "ENDING");
}

TEST_F(SessionTest, ASilentControllerIsLedToRestAtOnce) {
  Start();
  Run(milliseconds(1000));
  now_ += milliseconds(510);
  session_.CheckSilence(now_);
  Receive();
  EXPECT_TRUE(session_.is_finished());
  EXPECT_THAT(session_.end(), HasStatus(absl::StatusCode::kAborted, HasSubstr("sign of life")));
  test::ExpectAtRest(last_, answers_[0].limits());
}

TEST_F(SessionTest, AControllerThatSpeaksButDoesNotPlayIsSilentToo) {
  Start();
  Run(milliseconds(200));
  for (int i = 0; i < 30; ++i) {
    now_ += milliseconds(20);
    session_.Take(Message(), now_);
    session_.CheckSilence(now_);
  }
  Receive();
  EXPECT_THAT(session_.end(), HasStatus(absl::StatusCode::kAborted, HasSubstr("no sample")));
}

TEST_F(SessionTest, AnArmedSessionIsNotKeptForEver) {
  Receive();
  for (int i = 0; i < 601 && !session_.is_finished(); ++i) {
    now_ += milliseconds(100);
    session_.Take(Message(), now_);
    session_.CheckSilence(now_);
  }
  EXPECT_TRUE(session_.is_finished());
  EXPECT_THAT(session_.end(), HasStatus(absl::StatusCode::kAborted, HasSubstr("within 60 s")));
}

TEST_F(SessionTest, StoppedBeforeItsStartItEndsWithoutSamples) {
  Stop();
  Receive();
  EXPECT_TRUE(session_.is_finished());
  EXPECT_THAT(session_.end(), IsOk());
  EXPECT_EQ(sent_, 0);
}

TEST_F(SessionTest, TheFirstReasonCounts) {
  Start();
  Receive();
  session_.LeadToRest(absl::UnavailableError("the server stops"));
  session_.LeadToRest(absl::AbortedError("silence"));
  Receive();
  EXPECT_THAT(session_.end(), HasStatus(absl::StatusCode::kUnavailable, HasSubstr("stops")));
}

// Each message breaks one rule.
class BrokenRuleTest : public SessionTest,
                       public testing::WithParamInterface<void (*)(v1::PlaySessionRequest*)> {};

TEST_P(BrokenRuleTest, LeadsToRestAndNamesTheField) {
  Start();
  Run(milliseconds(100));
  v1::PlaySessionRequest request = Message();
  request.set_underrun_count(3);
  session_.Take(request, now_);
  GetParam()(&request);
  session_.Take(request, now_);
  Receive();
  EXPECT_TRUE(session_.is_finished());
  EXPECT_THAT(session_.end(), HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("")));
  test::ExpectAtRest(last_, answers_[0].limits());
}

INSTANTIATE_TEST_SUITE_P(
    ,
    BrokenRuleTest,
    testing::Values([](v1::PlaySessionRequest* r) { r->set_played_sample_count(1); },
                    [](v1::PlaySessionRequest* r) { r->set_played_sample_count(1 << 20); },
                    [](v1::PlaySessionRequest* r) { r->set_underrun_count(2); },
                    [](v1::PlaySessionRequest* r) { r->set_sequence(3); },
                    [](v1::PlaySessionRequest* r) { r->mutable_stop(); },
                    [](v1::PlaySessionRequest* r) {
                      r->mutable_stop();
                      r->set_sequence(7);
                    },
                    [](v1::PlaySessionRequest* r) {
                      r->mutable_arm();
                      r->set_sequence(3);
                    }));

TEST(ArmedDrivesTest, ArmsADriveOnce) {
  ArmedDrives drives;
  EXPECT_TRUE(drives.Arm("bench"));
  EXPECT_FALSE(drives.Arm("bench"));
  EXPECT_TRUE(drives.Arm("other"));
  drives.Disarm("bench");
  EXPECT_TRUE(drives.Arm("bench"));
}

}  // namespace
}  // namespace gaitshelf::service
