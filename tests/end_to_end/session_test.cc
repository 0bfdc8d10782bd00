// A control loop against a replayed robot, every link and flexure of it: server, session, leg
// controller, mechanism, contact. Who plays a gait this way must get the stride that was planned.
// And a loop whose server is killed must come to rest by itself.
#include <chrono>
#include <cmath>
#include <cstdio>
#include <memory>
#include <numbers>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include <gmock/gmock.h>
#include <grpcpp/create_channel.h>
#include <grpcpp/security/credentials.h>
#include <gtest/gtest.h>

#include "clients/controller/controller.h"
#include "solver/replay/gait_track.h"
#include "solver/replay/leg_control.h"
#include "solver/replay/limits.h"
#include "solver/replay/replay_model.h"
#include "solver/replay/whole_plant.h"
#include "tests/end_to_end/house.h"
#include "tests/support/demo.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf {
namespace {

using client::Controller;
using client::ControllerOptions;
using client::PlayState;
using client::Setpoint;
using Clock = std::chrono::steady_clock;
using Eigen::Index;
using Eigen::VectorXd;

// A gait that stands still at rest.
v1::Gait StandingGait(const v1::Gait& gait,
                      const client::Limits& limits,
                      const solver::RobotModel& model) {
  v1::Gait standing = gait;
  const VectorXd posture = model.ReferencePosture();
  const double length_m = model.scale().length_m;
  for (int knot = 0; knot < gait.knot_count(); ++knot) {
    for (int i = 0; i < 3; ++i) {
      standing.set_body_position_m(3 * knot + i, posture[i] * length_m);
      standing.set_body_attitude_rad(3 * knot + i, 0.0);
    }
    const auto width = static_cast<int>(model.drive_count());
    for (int i = 0; i < width; ++i) {
      const auto channel = static_cast<std::size_t>(i);
      standing.set_leg_position_m(width * knot + i, limits.rest_position_m[channel]);
      standing.set_voltage_v(width * knot + i, limits.rest_voltage_v[channel]);
    }
  }
  for (double& force_n : *standing.mutable_foot_force_n()) {
    force_n = 0.0;
  }
  standing.set_advance_m(0.0);
  return standing;
}

// Leg controller and robot behind a control loop. The leg controller samples faster than the loop,
// at the steps of the replay, and goes in straight lines from setpoint to setpoint.
class Bench {
 public:
  Bench(const v1::Robot& robot,
        const v1::Gait& gait,
        const client::Limits& limits,
        const solver::WholeRobot* whole,
        const solver::RobotModel* model)
      : model_(*model),
        plant_(whole, model),
        control_(robot.leg_controller(), 1.0, model),
        steps_(static_cast<int>(
            std::ceil(1.0 / limits.sample_rate_hz / solver::ReplaySettings::kLongestStepS))),
        step_(1.0 / limits.sample_rate_hz / steps_ / model->scale().time_s) {
    const auto track = solver::GaitTrack::Create(StandingGait(gait, limits, model_), model_);
    EXPECT_THAT(track, test::IsOk());
    EXPECT_THAT(plant_.StartOnPlan(*track, step_), test::IsOk());
    control_.Start(track->Voltage(0.0));
    for (Index i = 0; i < model_.drive_count(); ++i) {
      last_.position_m[static_cast<std::size_t>(i)] =
          limits.rest_position_m[static_cast<std::size_t>(i)];
      last_.voltage_v[static_cast<std::size_t>(i)] =
          limits.rest_voltage_v[static_cast<std::size_t>(i)];
    }
  }

  // Plays one period of the loop, from the last setpoint to this one.
  absl::Status Play(const Setpoint& setpoint) {
    const Index count = model_.drive_count();
    VectorXd target(count), rate(count), voltage_v(count);
    for (int step = 0; step < steps_; ++step) {
      const double share = static_cast<double>(step + 1) / steps_;
      for (Index i = 0; i < count; ++i) {
        const auto k = static_cast<std::size_t>(i);
        target[i] = std::lerp(last_.position_m[k], setpoint.position_m[k], share);
        rate[i] = std::lerp(last_.rate_m_per_s[k], setpoint.rate_m_per_s[k], share);
        voltage_v[i] = std::lerp(last_.voltage_v[k], setpoint.voltage_v[k], share);
      }
      target /= model_.scale().length_m;
      rate /= model_.scale().speed_m_per_s();
      const VectorXd& u =
          control_.Update(plant_.Position(), plant_.Velocity(), target, rate, voltage_v, step_);
      if (absl::Status status = plant_.Step(u, step_, &report_); !status.ok()) {
        return status;
      }
    }
    last_ = setpoint;
    return absl::OkStatus();
  }

  [[nodiscard]] Eigen::Vector2d place_m() const {
    return plant_.Position().head(2) * model_.scale().length_m;
  }
  [[nodiscard]] double heading_rad() const { return plant_.Position()[5]; }
  [[nodiscard]] double tilt_rad() const {
    return plant_.Position().segment(3, 2).lpNorm<Eigen::Infinity>();
  }

 private:
  const solver::RobotModel& model_;
  solver::WholePlant plant_;
  solver::LegControl control_;
  const int steps_;
  const double step_;
  Setpoint last_;
  solver::StepReport report_;
};

class SessionTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    house_ = new test::House;
    house_->StartServer();
    house_->PutDescriptions();
    const std::string job = house_->OrderAdvance(kFrequency_hz, kAdvance_m, 80);
    ASSERT_TRUE(house_->AwaitEnd(job));
    gait_ = new v1::Gait(house_->GetGait(house_->GetJob(job).gait()));
    ASSERT_EQ(gait_->audit().verdict(), v1::VERDICT_GOOD) << house_->ServerLog();
  }
  static void TearDownTestSuite() {
    delete gait_;
    delete house_;
  }

  std::unique_ptr<Controller> Arm(double sample_rate_hz) {
    ControllerOptions options;
    options.gaits = {gait_->name()};
    options.sample_rate_hz = sample_rate_hz;
    options.armed_by = "ada";
    options.drive = "replay";
    options.confirm = [] { return true; };  // nothing moves but numbers
    grpc::ChannelArguments arguments;
    arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
    auto controller = Controller::Arm(
        grpc::CreateCustomChannel(house_->address(), grpc::InsecureChannelCredentials(), arguments),
        options);
    EXPECT_THAT(controller, test::IsOk());
    return controller.ok() ? *std::move(controller) : nullptr;
  }

  static constexpr double kFrequency_hz = 12.0;
  static constexpr double kAdvance_m = 0.009;
  static test::House* house_;
  static v1::Gait* gait_;
};

test::House* SessionTest::house_ = nullptr;
v1::Gait* SessionTest::gait_ = nullptr;

class StrideTest : public SessionTest, public testing::WithParamInterface<double> {};

// How far the robot comes in whole cycles of a session that lasts `seconds` of the loop's own time,
// after the way up and three further cycles. The loop takes its time: a robot that is replayed may
// be slower than a real one, and the server follows the loop's count.
struct Way {
  double advance_m = 0.0;  // a cycle, as the crow flies
  double turn_rad = 0.0;   // a cycle
  int cycle_count = 0;
  double worst_tilt_rad = 0.0;
};

absl::StatusOr<Way> Walk(Controller* controller, Bench* bench, double seconds) {
  const double rate_hz = controller->limits().sample_rate_hz;
  const auto period =
      std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(1.0 / rate_hz));
  const auto stop_at = static_cast<std::int64_t>(seconds * rate_hz);
  Clock::time_point next = Clock::now();
  Way way;
  std::vector<Eigen::Vector2d> starts;  // of cycles
  std::vector<double> headings_rad;     // at these
  double phase_before = -1.0;
  std::thread stopping;
  for (PlayState state = PlayState::kWaiting; state != PlayState::kRested;) {
    next = std::max(next + period, Clock::now());
    std::this_thread::sleep_until(next);
    Setpoint setpoint;
    state = controller->Next(&setpoint);
    if (absl::Status status = bench->Play(setpoint); !status.ok()) {
      controller->RampDown();
      return status;
    }
    way.worst_tilt_rad = std::max(way.worst_tilt_rad, bench->tilt_rad());
    if (setpoint.phase_ratio >= 0.0 && setpoint.phase_ratio < phase_before) {
      starts.push_back(bench->place_m());
      headings_rad.push_back(bench->heading_rad());
    }
    phase_before = setpoint.phase_ratio;
    if (!stopping.joinable() && controller->played_count() >= stop_at) {
      stopping = std::thread([controller] { EXPECT_THAT(controller->Stop(), test::IsOk()); });
    }
  }
  if (stopping.joinable()) {
    stopping.join();
  }
  constexpr std::size_t kSettling = 3;
  if (starts.size() < kSettling + 2) {
    return absl::InternalError("the session had too few cycles");
  }
  way.cycle_count = static_cast<int>(starts.size() - kSettling) - 1;
  way.advance_m = (starts.back() - starts[kSettling]).norm() / way.cycle_count;
  way.turn_rad = (headings_rad.back() - headings_rad[kSettling]) / way.cycle_count;
  return way;
}

TEST_P(StrideTest, IsTheOneThatWasPlanned) {
  const auto controller = Arm(GetParam());
  ASSERT_NE(controller, nullptr);
  const v1::Robot robot = test::ReadDemoRobot("weevil");
  const auto model = solver::CreateReplayModel(robot, test::ReadDemoSurface("liner-felt"));
  ASSERT_THAT(model, test::IsOk());
  const auto whole = solver::WholeRobot::Create(robot, *model);
  ASSERT_THAT(whole, test::IsOk());
  Bench bench(robot, *gait_, controller->limits(), &*whole, &*model);
  ASSERT_THAT(controller->Start(), test::IsOk());
  const auto way = Walk(controller.get(), &bench, 2.5);
  ASSERT_THAT(way, test::IsOk());
  std::printf(
      "%g Hz: %d cycles of %.3f mm, turning by %.2f deg each; planned %.3f mm, replayed "
      "in the audit %.3f mm\n",
      GetParam(),
      way->cycle_count,
      1e3 * way->advance_m,
      way->turn_rad * 180.0 / std::numbers::pi,
      1e3 * gait_->advance_m(),
      1e3 * gait_->audit().replay().advance_m());
  EXPECT_EQ(controller->underrun_count(), 0);
  EXPECT_EQ(controller->held_back_count(), 0);
  EXPECT_GE(way->cycle_count, 10);
  EXPECT_LT(way->worst_tilt_rad, solver::AuditLimits::kFallTiltRad);
  // What the audit allows a replay to stray from its plan. Of that the robot takes 4 % here, and it
  // turns by 0.6 degrees a cycle. That is neither rate nor phase of the setpoints nor the
  // ramp: the straight walk does not attract. Nothing steers, robot and gait are symmetric, and on
  // both sides of the straight walk lies one that turns, with strides of 8.2 and 9.1 mm by turns. A
  // replay that starts on the plan finds its way there too, after ten cycles when its controller is
  // sampled at 1 kHz; to which side depends on the length of the ramp. The six cycles of an audit,
  // begun on the plan, are over before.
  EXPECT_NEAR(way->advance_m,
              gait_->advance_m(),
              solver::AuditLimits::kPlanDeviationRatio * gait_->advance_m());
}

INSTANTIATE_TEST_SUITE_P(AtRates, StrideTest, testing::Values(1000.0, 5000.0));

class KilledServerTest : public SessionTest {};

TEST_F(KilledServerTest, LeavesALoopThatComesToRestByItself) {
  const auto controller = Arm(1000.0);
  ASSERT_NE(controller, nullptr);
  ASSERT_THAT(controller->Start(), test::IsOk());
  const client::Limits& limits = controller->limits();
  Setpoint before;
  controller->Next(&before);
  Clock::time_point next = Clock::now();
  const Clock::time_point killing = next + std::chrono::milliseconds(1500);
  const Clock::time_point limit = killing + std::chrono::seconds(20);
  bool is_killed = false;
  for (PlayState state = PlayState::kWaiting; state != PlayState::kRested;) {
    next += std::chrono::milliseconds(1);
    ASSERT_LT(next, limit);
    std::this_thread::sleep_until(next);
    if (!is_killed && next > killing) {
      house_->KillServer();
      is_killed = true;
    }
    Setpoint now;
    state = controller->Next(&now);
    for (std::size_t i = 0; i < limits.channel_count; ++i) {
      // 1e-8: rounding.
      ASSERT_LE(std::abs(now.position_m[i] - before.position_m[i]),
                1e-3 * limits.leg_rate_m_per_s[i] * (1.0 + 1e-8));
      ASSERT_LE(std::abs(now.voltage_v[i] - before.voltage_v[i]),
                1e-3 * limits.slew_v_per_s[i] * (1.0 + 1e-8));
    }
    before = now;
  }
  EXPECT_TRUE(is_killed);
  EXPECT_EQ(controller->held_back_count(), 0);  // what came from the server was within the limits
  EXPECT_EQ(controller->underrun_count(), 1);
  EXPECT_GT(controller->played_count(), 1000);
  for (std::size_t i = 0; i < limits.channel_count; ++i) {
    EXPECT_EQ(before.position_m[i], limits.rest_position_m[i]);
    EXPECT_EQ(before.voltage_v[i], limits.rest_voltage_v[i]);
  }
}

}  // namespace
}  // namespace gaitshelf
