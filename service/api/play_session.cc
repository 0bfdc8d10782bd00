#include "service/api/play_session.h"

#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "service/api/load_gait.h"
#include "service/api/status.h"
#include "service/playback/check_session.h"
#include "service/playback/session.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;

// A call that says nothing is not kept.
constexpr std::chrono::seconds kLongestUnarmed(10);

absl::Status CheckFirst(const v1::PlaySessionRequest& request) {
  if (!request.has_arm() || request.sequence() != 1) {
    return absl::InvalidArgumentError(
        "the first message of a session must be ArmSession with sequence 1");
  }
  if (!request.arm().is_preview() && request.arm().drive().empty()) {
    return MissingField("arm.drive", "name the drive stage, or set is_preview");
  }
  return CheckArmed(request.arm().armed_by(), request.arm().is_preview());
}

// Loads everything that the session may play, so that no later command waits for the library.
absl::StatusOr<SessionSampler> LoadSampler(Library* library, const v1::ArmSession& arm) {
  std::vector<PlayableGait> gaits;
  v1::StoredRobot robot;
  std::string digest;
  for (const std::string& name : arm.gaits()) {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::Gait gait, LoadGoodGait(library, name));
    if (gaits.empty()) {
      digest = gait.robot_digest();
      GAITSHELF_ASSIGN_OR_RETURN(robot, library->GetRobot(gait.robot(), digest));
    } else if (gait.robot_digest() != digest) {
      return absl::FailedPreconditionError(absl::StrCat(
          "gaits ", arm.gaits(0), " and ", name, " are not of the same robot version"));
    }
    GAITSHELF_ASSIGN_OR_RETURN(PlayableGait playable, MakePlayable(gait, robot.robot()));
    gaits.push_back(std::move(playable));
  }
  if (const auto faults = CheckRateForGaits(arm.sample_rate_hz(), gaits); !faults.empty()) {
    return InvalidRequest(faults);
  }
  return SessionSampler::Create(
      std::move(gaits),
      robot.robot(),
      {.sample_rate_hz = arm.sample_rate_hz(), .drive_bits = arm.drive_bits()});
}

// One call. gRPC and the ticker call it from their threads; what they share is under the lock, and
// gRPC is called without it.
class Call final : public SessionReactor, public Ticker::Client {
 public:
  Call(SessionRoom* room, grpc::CallbackServerContext* context)
      : room_(room),
        context_(context),
        place_(std::in_place, &room->places, *context),
        began_(Clock::now()) {
    if (!place_->is_taken()) {
      is_over_ = true;
      Finish(ToGrpc(place_->refusal()));
      return;
    }
    StartRead(&request_);
    room_->ticker.Add(this);
  }

  void OnReadDone(bool is_read) override {
    bool goes_on = false;
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      if (is_over_) {
        return;
      }
      if (!is_read) {
        EndBy(absl::OkStatus());
      } else if (session_.has_value()) {
        session_->Take(request_, Clock::now());
        goes_on = true;
      } else {
        const absl::Status status = Arm();
        goes_on = status.ok();
        end_ = status;
        is_refused_ = !status.ok();
      }
    }
    if (goes_on) {
      StartRead(&request_);
    }
    Pump();
  }

  void OnWriteDone(bool is_written) override {
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      is_writing_ = false;
      if (!is_written && !is_over_) {
        EndBy(absl::CancelledError("the client is gone, or has stopped reading"));
        is_cut_off_ = true;
      }
    }
    Pump();
  }

  void OnCancel() override {
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      if (is_over_) {
        return;
      }
      is_cut_off_ = true;
    }
    Pump();
  }

  void Tick(Clock::time_point now) override {
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      if (is_over_) {
        return;
      }
      if (room_->house->stop.is_raised()) {
        EndBy(absl::UnavailableError("the server stops; the session was led to rest"));
      }
      if (session_.has_value()) {
        session_->CheckSilence(now);
      } else if (now - began_ > kLongestUnarmed) {
        EndBy(absl::AbortedError("no ArmSession came within 10 s"));
      }
      if (is_writing_ && now - write_began_ > room_->house->watchdog.limit()) {
        is_cut_off_ = true;
      }
    }
    Pump();
  }

  void OnDone() override {
    room_->ticker.Remove(this);
    {
      // Behind all that other threads have done here.
      const std::lock_guard<std::mutex> lock(mutex_);
    }
    delete this;
  }

 private:
  // Sets the session up from the first message.
  absl::Status Arm() {
    GAITSHELF_RETURN_IF_ERROR(CheckFirst(request_));
    v1::ArmSession arm = request_.arm();
    SetDefaults(&arm);
    if (const auto faults = CheckArm(arm); !faults.empty()) {
      return InvalidRequest(faults);
    }
    GAITSHELF_ASSIGN_OR_RETURN(SessionSampler sampler, LoadSampler(room_->house->library, arm));
    if (!arm.is_preview()) {
      if (!room_->drives.Arm(arm.drive())) {
        return WithReason(
            absl::AlreadyExistsError(absl::StrCat("drive '",
                                                  absl::CEscape(arm.drive()),
                                                  "' is armed by another session; end that first")),
            "DRIVE_ARMED");
      }
      drive_ = arm.drive();
    }
    who_ = {{"mode", arm.is_preview() ? "preview" : "armed"},
            {"drive", drive_},
            {"armed_by", arm.armed_by()}};
    TellOfSession("session begins",
                  {{"gaits", arm.gaits_size()},
                   {"first_gait", arm.gaits(0)},
                   {"sample_rate_hz", arm.sample_rate_hz()}});
    session_.emplace(std::move(sampler), arm, Clock::now());
    return absl::OkStatus();
  }

  void TellOfSession(const char* what, const std::vector<LogField>& facts) const {
    LogEvent event{.what = what, .fields = who_};
    event.fields.insert(event.fields.end(), facts.begin(), facts.end());
    Tell(room_->house->log, event);
  }

  // Ends the call by way of rest.
  void EndBy(const absl::Status& reason) {
    if (session_.has_value()) {
      session_->LeadToRest(reason);
    } else if (!is_refused_) {
      end_ = reason.ok() ? absl::InvalidArgumentError(
                               "the messages ended before ArmSession; nothing was armed")
                         : reason;
      is_refused_ = true;
    }
  }

  // Writes what is due or ends the call, for as long as there is something. Only one thread at a
  // time is inside gRPC, and the others leave the rest to it: no write may come after the end.
  void Pump() {
    for (Next next = Choose(false); next != Next::kNothing; next = Choose(true)) {
      if (next == Next::kEnd) {
        End();
        return;
      }
      StartWrite(&response_);
    }
  }

  enum class Next { kNothing, kWrite, kEnd };

  // Chooses what this thread does. is_caller tells that it has just done something.
  Next Choose(bool is_caller) {
    const std::lock_guard<std::mutex> lock(mutex_);
    if (is_caller) {
      is_calling_ = false;
    }
    if (is_over_ || is_calling_ || (is_writing_ && !is_cut_off_)) {
      return Next::kNothing;
    }
    if (is_cut_off_) {
      end_ = absl::CancelledError("the client is gone, or has stopped reading");
      is_over_ = true;
    } else if (is_refused_) {
      is_over_ = true;
    } else if (!session_.has_value()) {
      return Next::kNothing;
    } else if (session_->NextResponse(Clock::now(), &response_)) {
      // One write at a time, so that nothing piles up.
      is_writing_ = true;
      write_began_ = Clock::now();
    } else if (session_->is_finished()) {
      end_ = session_->end();
      is_over_ = true;
    } else {
      return Next::kNothing;
    }
    is_calling_ = true;
    return is_over_ ? Next::kEnd : Next::kWrite;
  }

  // After this the object may be gone.
  void End() {
    if (session_.has_value()) {
      TellOfSession("session has ended",
                    {{"samples", session_->played_count()},
                     {"underruns", session_->underrun_count()},
                     {"code", absl::StatusCodeToString(end_.code())},
                     {"reason", end_.message()}});
    }
    if (is_cut_off_) {
      context_->TryCancel();  // a write may stand still
    }
    // Before the client hears of the end: it may come again at once.
    place_.reset();
    if (!drive_.empty()) {
      room_->drives.Disarm(drive_);
    }
    Finish(ToGrpc(end_));
  }

  SessionRoom* room_;
  grpc::CallbackServerContext* context_;
  std::optional<Admission::Place> place_;  // until the session is over
  const Clock::time_point began_;

  std::mutex mutex_;
  v1::PlaySessionRequest request_;    // read into while no message is taken
  v1::PlaySessionResponse response_;  // left alone while it is written
  std::optional<Session> session_;
  std::string drive_;  // empty: none is armed
  std::vector<LogField> who_;
  absl::Status end_;
  Clock::time_point write_began_;
  bool is_writing_ = false;
  bool is_refused_ = false;  // before there was a session
  bool is_cut_off_ = false;
  bool is_calling_ = false;  // a thread is inside gRPC
  bool is_over_ = false;     // Finish has been or is being called; nothing here changes any more
};

}  // namespace

SessionReactor* ReceiveSession(SessionRoom* room, grpc::CallbackServerContext* context) {
  return new Call(room, context);
}

}  // namespace gaitshelf::service
