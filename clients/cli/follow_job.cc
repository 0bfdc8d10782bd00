#include "clients/cli/follow_job.h"

#include <chrono>
#include <memory>
#include <mutex>
#include <numbers>
#include <ostream>
#include <string>
#include <thread>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/progress_line.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

// A restarted server is back within seconds; after a minute a person should look.
constexpr std::chrono::seconds kPatience{60};
constexpr std::chrono::milliseconds kRetryPeriod{500};

// The call in progress, for whoever wants to end it from another thread.
class CurrentCall {
 public:
  void Set(grpc::ClientContext* context) {
    const std::lock_guard<std::mutex> lock(mutex_);
    context_ = context;
    if (is_cancelled_ && context_ != nullptr) {
      context_->TryCancel();
    }
  }
  void Cancel() {
    const std::lock_guard<std::mutex> lock(mutex_);
    is_cancelled_ = true;
    if (context_ != nullptr) {
      context_->TryCancel();
    }
  }

 private:
  std::mutex mutex_;
  grpc::ClientContext* context_ = nullptr;
  // A cancel between two calls ends the next one.
  bool is_cancelled_ = false;
};

// Watches once, until the job has ended or the stream breaks. `last` receives the latest word.
grpc::Status WatchOnce(const std::string& name,
                       ProgressPrinter& printer,
                       CurrentCall& call,
                       Session& session,
                       v1::WatchJobResponse& last) {
  grpc::ClientContext context;
  call.Set(&context);
  v1::WatchJobRequest request;
  request.set_name(name);
  const auto reader = session.server.jobs->WatchJob(&context, request);
  v1::WatchJobResponse response;
  while (reader->Read(&response)) {
    printer.Show(response.job(), std::chrono::steady_clock::now());
    last = response;
  }
  grpc::Status status = reader->Finish();
  call.Set(nullptr);
  return status;
}

bool HasEnded(const v1::Job& job) {
  return job.state() == v1::JOB_STATE_DONE || job.state() == v1::JOB_STATE_FAILED ||
         job.state() == v1::JOB_STATE_CANCELLED;
}

int ShowEnd(const v1::WatchJobResponse& last, const Session& session) {
  const v1::Job& job = last.job();
  if (session.is_json) {
    session.console.out << ToJson(last);
    return job.state() == v1::JOB_STATE_DONE ? kExitOk : kExitFailedJob;
  }
  if (job.state() == v1::JOB_STATE_DONE) {
    ShowAnswer(last.gait(), session);
    return kExitOk;
  }
  std::ostream& err = session.console.err;
  err << "gaitshelf: job " << job.name() << " " << StateText(job.state());
  if (!job.failure_reason().empty()) {
    err << ": " << job.failure_reason();
  }
  err << "\n";
  if (!job.gait().empty()) {
    err << "  what it found is kept: gaitshelf show " << job.gait() << "\n";
  }
  return kExitFailedJob;
}

int SayHowToReturn(const std::string& name, const Session& session) {
  session.console.err << name << " goes on without you.\n  come back:  gaitshelf watch " << name
                      << "\n  stop it:    gaitshelf cancel " << name << "\n";
  return kExitInterrupted;
}

}  // namespace

FollowedJob FollowToEnd(const std::string& name, bool is_quiet, Session& session) {
  ProgressPrinter printer(session.console, is_quiet);
  CurrentCall call;
  const InterruptScope interrupt(session.console.interrupts, [&call] { call.Cancel(); });
  auto give_up = std::chrono::steady_clock::now() + kPatience;
  bool has_word = false;
  bool has_complained = false;
  while (true) {
    v1::WatchJobResponse last;
    const grpc::Status status = WatchOnce(name, printer, call, session, last);
    if (interrupt.was_interrupted()) {
      printer.Finish();
      return {.exit_code = SayHowToReturn(name, session)};
    }
    if (HasEnded(last.job())) {
      printer.Finish();
      return {.last = last};
    }
    if (last.has_job()) {
      has_word = true;
      has_complained = false;
      give_up = std::chrono::steady_clock::now() + kPatience;
    }
    const bool is_worth_retry = status.ok() || status.error_code() == grpc::StatusCode::UNAVAILABLE;
    if (!is_worth_retry || !has_word || std::chrono::steady_clock::now() > give_up) {
      printer.Finish();
      return {.exit_code = Fail(session, status)};
    }
    if (!has_complained && !is_quiet && !status.ok()) {
      printer.Finish();
      session.console.err << "the server went away; the job is safe, trying again for "
                          << kPatience.count() << " s" << std::endl;
      has_complained = true;
    }
    std::this_thread::sleep_for(kRetryPeriod);
  }
}

int FollowJob(const std::string& name, bool is_quiet, Session& session) {
  const FollowedJob followed = FollowToEnd(name, is_quiet, session);
  return followed.exit_code != kExitOk ? followed.exit_code : ShowEnd(followed.last, session);
}

namespace {

// What a gait did, beside what was planned. A stand was to go nowhere.
std::string MotionText(const v1::GaitSummary& gait) {
  if (gait.task().has_stand()) {
    return absl::StrCat("drifts ", Millimetres(gait.replayed_advance_m()), " per cycle");
  }
  if (gait.task().has_transition()) {
    return absl::StrCat("over ",
                        Millimetres(gait.advance_m()),
                        " into ",
                        Millimetres(gait.replayed_advance_m()),
                        " per cycle");
  }
  const bool is_hop = gait.task().has_hop();
  return absl::StrCat("planned ",
                      Millimetres(is_hop ? gait.rise_m() : gait.advance_m()),
                      ", replayed ",
                      Millimetres(is_hop ? gait.replayed_rise_m() : gait.replayed_advance_m()));
}

// What it did besides going ahead.
std::string OtherMotionText(const v1::GaitSummary& gait) {
  std::string text;
  if (gait.task().advance().sidestep_m() != 0.0) {
    absl::StrAppend(&text, ", ", Millimetres(gait.replayed_sidestep_m()), " to the left");
  }
  if (gait.task().advance().turn_rad() != 0.0) {
    absl::StrAppendFormat(
        &text, ", turn %.2f deg", gait.replayed_turn_rad() * 180.0 / std::numbers::pi);
  }
  return text;
}

}  // namespace

void ShowAnswer(const v1::GaitSummary& gait, const Session& session) {
  session.console.out << absl::StrFormat(
      "%s\n  %s on %s, %s%s\n  %s: %s%s; peak %.0f V\n  residual %s; solved in %.1f s\n",
      gait.name(),
      gait.robot(),
      SurfacesText(gait.surface(), gait.also_on()),
      TaskText(gait.task()),
      gait.task().has_advance() ? absl::StrCat(" at ", Hertz(gait.stride_frequency_hz()))
                                : std::string(),
      VerdictText(gait.verdict()),
      MotionText(gait),
      OtherMotionText(gait),
      gait.peak_voltage_v(),
      Scientific(gait.worst_residual_ratio()),
      gait.solve_s());
}

}  // namespace gaitshelf::client
