#include "clients/controller/controller.h"

#include <atomic>
#include <chrono>
#include <cmath>
#include <condition_variable>
#include <map>
#include <mutex>
#include <thread>
#include <utility>

#include <grpcpp/client_context.h>

#include "gaitshelf/v1/playback_service.grpc.pb.h"

#include "absl/strings/str_cat.h"
#include "clients/controller/read_block.h"
#include "clients/controller/setpoint_ring.h"
#include "clients/controller/time_limit.h"

namespace gaitshelf::client {
namespace {

using Stream = grpc::ClientReaderWriter<v1::PlaySessionRequest, v1::PlaySessionResponse>;

// How often the server hears of the loop. It asks for every 100 ms, and each time costs it a wake.
constexpr std::chrono::milliseconds kSpeak(80);
// How long the receiving thread waits when the buffer is full.
constexpr std::chrono::milliseconds kFull(2);
// The buffer has room for the lead, the server's guess of what was played meanwhile (0.3 s) and the
// way down that is sent at once in the end (0.5 s).
constexpr double kRoomBeyondLead_s = 1.0;
// Share of the lead that waits before the loop begins: more would never come at once.
constexpr double kFirstFill = 0.8;

absl::Status FromGrpc(const grpc::Status& status) {
  return {static_cast<absl::StatusCode>(status.error_code()), status.error_message()};
}

v1::PlaySessionRequest ArmRequest(const ControllerOptions& options) {
  v1::PlaySessionRequest request;
  request.set_sequence(1);
  v1::ArmSession& arm = *request.mutable_arm();
  arm.mutable_gaits()->Assign(options.gaits.begin(), options.gaits.end());
  arm.set_sample_rate_hz(options.sample_rate_hz);
  arm.set_armed_by(options.armed_by);
  arm.set_is_preview(options.is_preview);
  arm.set_drive(options.drive);
  arm.set_drive_bits(options.drive_bits);
  arm.set_lead_s(options.lead_s);
  arm.set_silence_s(options.silence_s);
  return request;
}

class GrpcController final : public Controller {
 public:
  GrpcController(const std::shared_ptr<grpc::Channel>& channel, double answer_limit_s)
      : answer_limit_s_(answer_limit_s),
        stub_(v1::PlaybackService::NewStub(channel)),
        stream_(stub_->PlaySession(&context_)) {}

  ~GrpcController() override {
    if (speaking_.joinable()) {
      static_cast<void>(Stop());
      {
        const std::lock_guard<std::mutex> lock(mutex_);
        is_left_ = true;
      }
      changed_.notify_all();
      const TimeLimit limit(answer_limit_s_, [this] { GiveUp(); });
      speaking_.join();
      receiving_.join();
      return;
    }
    if (!is_refused_) {
      context_.TryCancel();
      Drain().IgnoreError();
    }
  }

  // Arms the session; nothing runs yet.
  absl::Status Open(const ControllerOptions& options) {
    const TimeLimit limit(answer_limit_s_, [this] { GiveUp(); });
    v1::PlaySessionResponse response;
    if (!stream_->Write(ArmRequest(options)) || !stream_->Read(&response) ||
        response.answers_size() != 1) {
      stream_->WritesDone();
      is_refused_ = true;
      return Drain();
    }
    const absl::StatusOr<Limits> limits = ReadLimits(response.answers(0).limits());
    if (!limits.ok()) {
      return limits.status();
    }
    limits_ = *limits;
    const double rate_hz = limits_.sample_rate_hz;
    ring_ = std::make_unique<SetpointRing>(
        static_cast<std::size_t>(std::ceil((limits_.lead_s + kRoomBeyondLead_s) * rate_hz)));
    const double fill = std::ceil(kFirstFill * limits_.lead_s * rate_hz);
    player_ = std::make_unique<SetpointPlayer>(
        ring_.get(), limits_, static_cast<std::size_t>(std::max(fill, 1.0)));
    receiving_ = std::thread([this] { Receive(); });
    speaking_ = std::thread([this] { Speak(); });
    return absl::OkStatus();
  }

  PlayState Next(Setpoint* setpoint) override { return player_->Next(setpoint); }
  void RampDown() override { player_->RampDown(); }

  absl::Status Start() override {
    v1::PlaySessionRequest request;
    request.mutable_start();
    return Ask(std::move(request));
  }
  absl::Status SwitchTo(const std::string& gait, std::optional<double> phase_ratio) override {
    v1::PlaySessionRequest request;
    request.mutable_switch_gait()->set_gait(gait);
    if (phase_ratio.has_value()) {
      request.mutable_switch_gait()->set_phase_ratio(*phase_ratio);
    }
    return Ask(std::move(request));
  }
  absl::Status SetPace(double pace_ratio) override {
    v1::PlaySessionRequest request;
    request.mutable_change_rate()->set_pace_ratio(pace_ratio);
    return Ask(std::move(request));
  }
  absl::Status Stop() override {
    v1::PlaySessionRequest request;
    request.mutable_stop();
    return Ask(std::move(request));
  }

  const Limits& limits() const override { return limits_; }
  std::int64_t played_count() const override { return player_->played_count(); }
  std::int64_t underrun_count() const override { return player_->underrun_count(); }
  std::int64_t held_back_count() const override { return player_->held_back_count(); }
  std::int64_t least_left_count() const override { return player_->least_left_count(); }
  absl::Status end() const override {
    const std::lock_guard<std::mutex> lock(mutex_);
    return has_ended_ ? end_ : absl::UnknownError("the session runs");
  }

 private:
  // Ends the call when the server has been too long; everything that waits for it wakes up.
  void GiveUp() {
    is_given_up_ = true;
    context_.TryCancel();
  }

  // What became of a call that gRPC ended with this.
  absl::Status EndOf(const absl::Status& status) const {
    return is_given_up_
               ? absl::DeadlineExceededError(absl::StrCat("the server did not answer within ",
                                                          answer_limit_s_,
                                                          " s; the session was given up"))
               : status;
  }

  // Sends a command and waits for its answer.
  absl::Status Ask(v1::PlaySessionRequest request) {
    const TimeLimit limit(answer_limit_s_, [this] { GiveUp(); });
    std::unique_lock<std::mutex> lock(mutex_);
    if (has_ended_) {
      return absl::UnavailableError("the session has ended");
    }
    const std::int64_t sequence = ++sequence_;
    request.set_sequence(sequence);
    if (!Write(std::move(request))) {
      return absl::UnavailableError("the session has ended");
    }
    changed_.wait(lock, [&] { return has_ended_ || answers_.count(sequence) > 0; });
    const auto answer = answers_.find(sequence);
    if (answer == answers_.end()) {
      return EndOf(absl::UnavailableError("the session ended before it answered"));
    }
    const v1::CommandAnswer found = std::move(answer->second);
    answers_.erase(answer);
    return found.is_accepted()
               ? absl::OkStatus()
               : absl::FailedPreconditionError(absl::StrCat(found.reason(), ": ", found.problem()));
  }

  // Writes under the lock: messages must come in the order of their numbers.
  bool Write(v1::PlaySessionRequest request) {
    request.set_played_sample_count(player_->played_count());
    request.set_underrun_count(player_->underrun_count());
    return stream_->Write(request);
  }

  // Reads to the end, which gRPC asks for, and returns how the call ended. Once a call.
  absl::Status Drain() {
    v1::PlaySessionResponse response;
    while (stream_->Read(&response)) {
    }
    return EndOf(FromGrpc(stream_->Finish()));
  }

  // Tells the server how far the loop is, and when it has found its own way to rest.
  void Speak() {
    std::unique_lock<std::mutex> lock(mutex_);
    while (!changed_.wait_for(lock, kSpeak, [this] { return has_ended_ || is_left_; })) {
      const PlayState state = player_->state();
      if (state == PlayState::kRamping || (state == PlayState::kRested && !is_last_in_)) {
        break;
      }
      if (!Write({})) {
        break;
      }
    }
    if (!has_ended_) {
      Write({});
    }
    // The server leads its side to rest and ends the session.
    stream_->WritesDone();
  }

  void Receive() {
    v1::PlaySessionResponse response;
    absl::Status status = absl::OkStatus();
    std::int64_t received = 0;
    while (status.ok() && stream_->Read(&response)) {
      TakeAnswers(response);
      if (response.has_block()) {
        status = CheckBlock(response.block(), limits_, received);
        if (status.ok()) {
          received += response.block().sample_count();
          PutBlock(response);
        }
      }
    }
    if (!status.ok() || is_given_up_) {
      player_->RampDown();
      context_.TryCancel();
    }
    player_->EndInput(is_last_in_);
    const absl::Status end = Drain();
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      has_ended_ = true;
      end_ = status.ok() ? end : status;
    }
    changed_.notify_all();
  }

  void TakeAnswers(const v1::PlaySessionResponse& response) {
    if (response.answers().empty()) {
      return;
    }
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      for (const v1::CommandAnswer& answer : response.answers()) {
        answers_[answer.sequence()] = answer;
      }
    }
    changed_.notify_all();
  }

  void PutBlock(const v1::PlaySessionResponse& response) {
    std::int64_t last = -1;
    for (const v1::StateChange& change : response.changes()) {
      if (change.state() == v1::SESSION_STATE_RESTED) {
        last = change.first_sample();
      }
    }
    for (int i = 0; i < response.block().sample_count(); ++i) {
      Setpoint setpoint = ReadSetpoint(response.block(), limits_, i);
      setpoint.is_last = setpoint.number == last;
      is_last_in_ = is_last_in_ || setpoint.is_last;
      // A loop that no longer takes setpoints needs none.
      while (!ring_->Put(setpoint) && IsTaking()) {
        std::this_thread::sleep_for(kFull);
      }
    }
    if (is_last_in_) {
      player_->EndInput(true);
    }
  }

  bool IsTaking() const {
    const PlayState state = player_->state();
    const std::lock_guard<std::mutex> lock(mutex_);
    return (state == PlayState::kWaiting || state == PlayState::kPlaying) && !is_left_;
  }

  const double answer_limit_s_;
  grpc::ClientContext context_;
  std::unique_ptr<v1::PlaybackService::Stub> stub_;
  std::unique_ptr<Stream> stream_;
  Limits limits_;
  std::unique_ptr<SetpointRing> ring_;
  std::unique_ptr<SetpointPlayer> player_;
  bool is_refused_ = false;                // the call ended before it was a session
  std::atomic<bool> is_last_in_ = false;   // the end of the session is in the buffer
  std::atomic<bool> is_given_up_ = false;  // the server did not answer

  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::int64_t sequence_ = 1;
  std::map<std::int64_t, v1::CommandAnswer> answers_;
  bool has_ended_ = false;
  bool is_left_ = false;  // nobody uses the controller any more
  absl::Status end_;
  std::thread receiving_;
  std::thread speaking_;
};

}  // namespace

absl::StatusOr<std::unique_ptr<Controller>> Controller::Arm(
    const std::shared_ptr<grpc::Channel>& channel,
    const ControllerOptions& options) {
  if (!options.is_preview && !options.confirm) {
    return absl::FailedPreconditionError(
        "confirm is missing; give a function that is true when the present person has armed the "
        "drive, or set is_preview when the setpoints are only looked at");
  }
  if (!(options.answer_limit_s > 0.0)) {
    return absl::InvalidArgumentError(absl::StrCat(
        "answer_limit_s is ", options.answer_limit_s, "; give more than 0 s, 5 s if in doubt"));
  }
  if (!options.is_preview && !options.confirm()) {
    return absl::FailedPreconditionError("the present person did not arm the drive");
  }
  auto controller = std::make_unique<GrpcController>(channel, options.answer_limit_s);
  if (absl::Status status = controller->Open(options); !status.ok()) {
    return status;
  }
  return controller;
}

}  // namespace gaitshelf::client
