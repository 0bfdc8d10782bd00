#include "service/playback/session.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <optional>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/string_view.h"
#include "service/playback/check_session.h"

namespace gaitshelf::service {
namespace {

// Time of the samples of a message. Two thirds of what a session costs are system calls and wakes
// around its messages, so there should be few; the buffer runs down by a message in between, so
// they should be short against the lead, and what is left must outlast stalls of 0.16 s.
constexpr double kLongestBlock_s = 0.05;
constexpr double kBlockOfLead = 0.2;
// The most samples of one message: 16 legs take 1.3 kB a sample, clients allow 4 MB.
constexpr std::int64_t kMostSamplesAtOnce = 2000;
// An armed drive that nobody starts is not kept.
constexpr std::chrono::seconds kLongestArmed(60);

LeadKeeper::Options KeeperOptions(const v1::ArmSession& arm) {
  return {
      .sample_rate_hz = arm.sample_rate_hz(), .lead_s = arm.lead_s(), .silence_s = arm.silence_s()};
}

void Refuse(absl::string_view reason, absl::string_view problem, v1::CommandAnswer* answer) {
  answer->set_is_accepted(false);
  answer->set_reason(std::string(reason));
  answer->set_problem(std::string(problem));
}

// Refuses for what breaks a rule; returns whether there was anything.
bool RefuseFaults(const std::vector<v1::FieldViolation>& faults, v1::CommandAnswer* answer) {
  std::vector<std::string> lines;
  lines.reserve(faults.size());
  for (const v1::FieldViolation& fault : faults) {
    lines.push_back(absl::StrCat(
        fault.field(), " is ", fault.value(), ": ", fault.problem(), "; ", fault.mend()));
  }
  if (!lines.empty()) {
    Refuse("OUT_OF_RANGE", absl::StrJoin(lines, "\n"), answer);
  }
  return !lines.empty();
}

}  // namespace

Session::Session(SessionSampler sampler, const v1::ArmSession& arm, Clock::time_point now)
    : sampler_(std::move(sampler)),
      keeper_(KeeperOptions(arm), now),
      armed_(now),
      lead_s_(arm.lead_s()),
      silence_s_(arm.silence_s()),
      block_s_(std::min(kLongestBlock_s, kBlockOfLead * arm.lead_s())) {
  v1::CommandAnswer& answer = answers_.emplace_back();
  answer.set_sequence(sequence_);
  answer.set_is_accepted(true);
  *answer.mutable_limits() = sampler_.Limits();
  answer.mutable_limits()->set_lead_s(lead_s_);
  answer.mutable_limits()->set_silence_s(silence_s_);
}

absl::Status Session::CheckMessage(const v1::PlaySessionRequest& request) const {
  if (request.played_sample_count() < keeper_.played_count() ||
      request.played_sample_count() > sampler_.sample_count()) {
    return absl::InvalidArgumentError(
        absl::StrCat("played_sample_count is ",
                     request.played_sample_count(),
                     "; it must not fall below the ",
                     keeper_.played_count(),
                     " said before nor exceed the ",
                     sampler_.sample_count(),
                     " sent; count the samples that the loop has taken"));
  }
  if (request.underrun_count() < underrun_count_) {
    return absl::InvalidArgumentError(absl::StrCat("underrun_count is ",
                                                   request.underrun_count(),
                                                   ", less than the ",
                                                   underrun_count_,
                                                   " said before; count from the start"));
  }
  const bool has_command = request.command_case() != v1::PlaySessionRequest::COMMAND_NOT_SET;
  const std::int64_t wanted = has_command ? sequence_ + 1 : 0;
  if (request.sequence() != wanted) {
    return absl::InvalidArgumentError(absl::StrCat("sequence is ",
                                                   request.sequence(),
                                                   "; it must be ",
                                                   wanted,
                                                   has_command
                                                       ? ", one more than that of the last command"
                                                       : " in a message without a command"));
  }
  if (request.has_arm()) {
    return absl::InvalidArgumentError(
        "a session is armed once, by its first message; end it and begin another");
  }
  return absl::OkStatus();
}

void Session::Take(const v1::PlaySessionRequest& request, Clock::time_point now) {
  if (const absl::Status status = CheckMessage(request); !status.ok()) {
    LeadToRest(status);
    return;
  }
  keeper_.Hear(request.played_sample_count(), now);
  underrun_count_ = request.underrun_count();
  if (request.sequence() > 0) {
    TakeCommand(request, now);
  }
}

void Session::TakeCommand(const v1::PlaySessionRequest& request, Clock::time_point now) {
  sequence_ = request.sequence();
  v1::CommandAnswer answer;
  answer.set_sequence(sequence_);
  answer.set_is_accepted(true);
  answer.set_first_sample(sampler_.sample_count());
  if (is_ending_) {
    if (!request.has_stop()) {
      Refuse("ENDING", "the session is on its way to rest; arm a new one", &answer);
    }
  } else if (request.has_start()) {
    Start(now, &answer);
  } else if (request.has_switch_gait()) {
    Switch(request.switch_gait(), &answer);
  } else if (request.has_change_rate()) {
    Change(request.change_rate(), &answer);
  } else {
    sampler_.Stop();
    is_ending_ = true;
  }
  answers_.push_back(std::move(answer));
}

void Session::Start(Clock::time_point now, v1::CommandAnswer* answer) {
  if (sampler_.is_started()) {
    Refuse("STARTED", "the session has started already; switch the gait instead", answer);
    return;
  }
  sampler_.Start();
  keeper_.Start(now);
}

void Session::Switch(const v1::SwitchGait& command, v1::CommandAnswer* answer) {
  if (RefuseFaults(CheckSwitch(command), answer)) {
    return;
  }
  const std::vector<PlayableGait>& gaits = sampler_.gaits();
  const auto is_named = [&](const PlayableGait& gait) { return gait.name == command.gait(); };
  const auto gait = std::find_if(gaits.begin(), gaits.end(), is_named);
  if (gait == gaits.end()) {
    Refuse("UNKNOWN_GAIT",
           absl::StrCat("gait is '",
                        command.gait(),
                        "', which was not armed; name one of those that ArmSession lists"),
           answer);
    return;
  }
  const std::optional<double> phase_ratio =
      command.has_phase_ratio() ? std::optional<double>(command.phase_ratio()) : std::nullopt;
  const absl::Status status =
      sampler_.SwitchTo(static_cast<int>(gait - gaits.begin()), phase_ratio);
  if (!status.ok()) {
    Refuse("ENDING", status.message(), answer);
  }
}

void Session::Change(const v1::ChangeRate& command, v1::CommandAnswer* answer) {
  if (RefuseFaults(CheckChange(command, sampler_.gaits()), answer)) {
    return;
  }
  if (command.sample_rate_hz() != 0.0) {
    if (const absl::Status status = sampler_.SetSampleRate(command.sample_rate_hz());
        !status.ok()) {
      Refuse("DRIVE_TOO_SLOW", status.message(), answer);
      return;
    }
    keeper_.SetSampleRate(command.sample_rate_hz());
  }
  if (command.pace_ratio() != 0.0) {
    sampler_.SetPace(command.pace_ratio());
  }
}

void Session::CheckSilence(Clock::time_point now) {
  if (is_hurried_) {
    return;
  }
  if (keeper_.IsSilent(now)) {
    LeadToRest(absl::AbortedError(
        absl::StrCat("the controller gave no sign of life, or took no sample, for ",
                     silence_s_,
                     " s; the session was led to rest")));
  } else if (!sampler_.is_started() && !is_ending_ && now - armed_ > kLongestArmed) {
    LeadToRest(absl::AbortedError("the session was not started within 60 s; arm it again"));
  }
}

void Session::LeadToRest(const absl::Status& reason) {
  if (!is_ending_) {
    sampler_.Stop();
    end_ = reason;
  }
  is_ending_ = true;
  is_hurried_ = true;
}

bool Session::is_finished() const {
  return is_ending_ && answers_.empty() && (!sampler_.is_started() || sampler_.is_finished());
}

bool Session::NextResponse(Clock::time_point now, v1::PlaySessionResponse* response) {
  response->Clear();
  response->mutable_answers()->Assign(answers_.begin(), answers_.end());
  answers_.clear();
  if (!sampler_.is_started() || sampler_.is_finished()) {
    return response->answers_size() > 0;
  }
  const std::int64_t due =
      is_hurried_ ? kMostSamplesAtOnce : keeper_.WantedCount(now) - sampler_.sample_count();
  const auto least = static_cast<std::int64_t>(std::llround(block_s_ * sampler_.sample_rate_hz()));
  if (due < std::max<std::int64_t>(least, 1)) {
    return response->answers_size() > 0;
  }
  std::vector<v1::StateChange> changes;
  sampler_.Append(
      static_cast<int>(std::min(due, kMostSamplesAtOnce)), response->mutable_block(), &changes);
  response->mutable_changes()->Assign(changes.begin(), changes.end());
  return true;
}

}  // namespace gaitshelf::service
